#include "field/model_operator.hpp"

#include "field/operator_script.hpp"

namespace sondeyard::field {

std::unique_ptr<ModelOperator> make_model_operator(std::string_view name, const Brief& brief) {
    if (name == "follows-peak") {
        return make_follows_peak(brief);
    }
    if (name == "best-fit" && brief.receiver_kind == sim::ReceiverKind::tri_axis) {
        return make_best_fit(brief);
    }
    if (name == "level-line" || name == "pull-back" || name == "three-point" || name == "best-fit") {
        switch (brief.receiver_kind) {
        case sim::ReceiverKind::tri_axis:
            return name == "level-line"  ? make_level_line(brief)
                   : name == "pull-back" ? make_pull_back(brief)
                                         : make_three_point(brief);
        case sim::ReceiverKind::single_coil:
            return make_level_line_single_coil(brief);
        case sim::ReceiverKind::twin_coil:
            return make_level_line_twin_coil(brief);
        }
    }
    return nullptr;
}

std::vector<std::string_view> model_operator_names() {
    return {"follows-peak", "level-line", "pull-back", "three-point", "best-fit"};
}

ExerciseState operate(const Setting& setting, ModelOperator& who, std::int64_t max_ticks, const OnStep& each) {
    ExerciseState state = start(setting);
    Observation seen = observe(setting, state);
    while (!state.finished_tick && state.tick < max_ticks) {
        const Action action = who.act(seen, state.notebook, state.truck_checks);
        seen = step(setting, state, action);
        if (each) {
            each(action, seen, state);
        }
    }
    return state;
}

} // namespace sondeyard::field
