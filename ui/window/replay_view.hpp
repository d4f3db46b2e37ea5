// Inside of the replay view: what its parts share.
#pragma once

#include "ui/window/debrief_page.hpp"
#include "ui/window/replay_model.hpp"

#include <string>

namespace sondeyard::ui {

// At the cursor; a click or drag in it sets where the replay stands.
void replay_graph(const DebriefParts& page, ReplayModel& model, ImVec2 size);

std::string event_words(const DebriefParts& page, const field::Event& event); // with what was said of it

} // namespace sondeyard::ui
