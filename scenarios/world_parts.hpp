// Parts of a World that are read in the same way whether a scenario is resolved or still to be drawn. Private to this
// folder.
#pragma once

#include "field/world.hpp"
#include "scenarios/values.hpp"

namespace sondeyard::scenarios {

void fill_receiver(const Values& v, sim::ReceiverSpec& spec);
void fill_rubric(const Values& v, field::Rubric& rubric);
void fill_lesson(const Values& v, field::Lesson& lesson);
void fill_texts(const Values& v, field::JobSheet& sheet);
// Cast iron is drawn from where grey iron may lie, unless the scenario says.
field::PipeMetal metal_of(const Values& v, field::PipeMaterial material);

// read_world.cpp: a resolved scenario, in which nothing is left to draw.
field::World read_world(const Scenario::Content& content);

} // namespace sondeyard::scenarios
