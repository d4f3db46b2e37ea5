// Model operators: scripted locators that work an exercise by a stated method, for calibration and for tests. They
// get what a trainee may know, the Brief, each Observation and the Notebook he has filled, and nothing else.
#pragma once

#include "field/exercise.hpp"

#include <functional>
#include <memory>

namespace sondeyard::field {

class ModelOperator {
public:
    virtual ~ModelOperator() = default;
    // The next tick's action, after seeing this. `notebook` is what he has written down so far.
    virtual Action act(const Observation& seen, const Notebook& notebook,
                       const std::vector<TruckCheckResult>& truck) = 0;
};

// "follows-peak": climbs the signal, reads depth, marks, digs. "level-line": plumb points, level line and peak, marks
// between them by how much stronger the peak is, facing pair, lift check. "pull-back": the same, but asks the cable
// hand first: a source that does not follow the counter is left alone, and a steep sonde is pulled back to where it
// lies nearly level, located there, and the dig box carried on to the stop. "three-point": both plumb points and the
// level line, each looked at both ways round, and the tilt fix (tilt_fix.hpp); where that will not vouch for itself,
// "level-line". "best-fit": probes a rosette of places and fits a dipole to what the display showed there. With level
// coils the last three are "level-line". nullptr for another name.
std::unique_ptr<ModelOperator> make_model_operator(std::string_view name, const Brief& brief);
std::vector<std::string_view> model_operator_names();

// Lets an operator work an exercise to its end (he finishes, or max_ticks have passed). `each` is called after every
// step, for a log; may be empty.
using OnStep = std::function<void(const Action&, const Observation&, const ExerciseState&)>;
ExerciseState operate(const Setting& setting, ModelOperator& who, std::int64_t max_ticks, const OnStep& each = {});

} // namespace sondeyard::field
