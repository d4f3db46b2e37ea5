// Work to measure: an exercise that no person has to do.
#pragma once

#include "field/exercise.hpp"

#include <filesystem>

namespace sondeyard::ui {

inline constexpr std::int64_t ten_minutes_ticks = 10 * 60 * 60;

// A hand that moves in most ticks, as a person's does: round the sonde, out and back, with a reading or a mark now and then.
field::Action wandering(const field::Setting& setting, std::int64_t tick);

// So many ticks of it as a work log. Throws field::LogError when the file is there or cannot be written.
void write_wandering_log(const field::Setting& setting, std::int64_t ticks, const std::filesystem::path& file);

} // namespace sondeyard::ui
