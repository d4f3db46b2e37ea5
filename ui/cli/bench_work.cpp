#include "ui/cli/bench_work.hpp"

#include "field/work_log.hpp"
#include "scenarios/log_header.hpp"

#include <cmath>

namespace sondeyard::ui {

field::Action wandering(const field::Setting& setting, std::int64_t tick) {
    const double t = static_cast<double>(tick) * field::tick_s;
    field::Action action;
    const glm::dvec2 middle = field::plan(setting.world.sonde.position_m);
    action.move.hand_m = middle + (1.5 + std::sin(0.11 * t)) * glm::dvec2{std::sin(0.5 * t), std::cos(0.37 * t)};
    action.move.hand_height_m = std::fmod(t, 20.0) < 10.0 ? 0.0 : 0.8;
    if (tick % 300 == 0) {
        action.command = field::ReadDepth{};
    } else if (tick % 700 == 0) {
        action.command = field::PlaceMark{field::MarkKind::plumb};
    }
    return action;
}

void write_wandering_log(const field::Setting& setting, std::int64_t ticks, const std::filesystem::path& file) {
    field::LogWriter writer(file, scenarios::log_header(setting.world, SONDEYARD_VERSION));
    field::ExerciseState state = field::start(setting);
    for (std::int64_t tick = 1; tick <= ticks; ++tick) {
        const field::Action action = wandering(setting, tick);
        const field::Observation seen = field::step(setting, state, action);
        writer.record(action, seen, state);
    }
    writer.end(state);
}

} // namespace sondeyard::ui
