// Exercises worked by a model operator from end to end: one at a time, or many of them on all processors.
#pragma once

#include "field/model_operator.hpp"
#include "field/score.hpp"
#include "scenarios/scenario.hpp"

#include <cfenv>
#include <cstdint>
#include <cstdlib>
#include <optional>
#include <string>
#include <vector>

namespace sondeyard::scenarios::test {

// Sanitizers make the same code some twenty times slower.
inline bool sanitized() { return std::getenv("SONDEYARD_SANITIZED") != nullptr; }

inline constexpr std::int64_t half_an_hour_ticks = 30 * 60 * 60;
inline constexpr int bad_arithmetic = FE_DIVBYZERO | FE_INVALID | FE_OVERFLOW;

// As long as it lives, arithmetic of this thread that gives no number raises SIGFPE.
class FloatingPointTraps {
public:
    FloatingPointTraps() {
        std::feclearexcept(FE_ALL_EXCEPT);
        before_ = feenableexcept(bad_arithmetic);
    }
    ~FloatingPointTraps() {
        fedisableexcept(FE_ALL_EXCEPT);
        feenableexcept(before_);
    }
    FloatingPointTraps(const FloatingPointTraps&) = delete;
    FloatingPointTraps& operator=(const FloatingPointTraps&) = delete;
    bool on() const { return fegetexcept() == bad_arithmetic; }

private:
    int before_ = 0;
};

struct Job {
    std::string who; // the operator
    std::string scenario;
    std::uint64_t seed = 0;
    std::optional<sim::ReceiverKind> receiver; // instead of the scenario's own
};

struct Worked {
    Job job;
    std::string trouble; // an exception's text; empty when all went well, and nothing below holds otherwise
    std::vector<std::string> faults;
    bool solvable = false; // by level-line, as the scenario says
    bool finished = false;
    bool numbers_sound = false; // no division by zero, overflow or invalid operation on the way
    double seconds = 0.0;
    field::Score score;
};

Worked work(const Job& job) noexcept;

// On all processors; the results in the order of the jobs.
std::vector<Worked> work_all(const std::vector<Job>& jobs);

// "level-line, deep, seed 17: 0.31 m off (half band 0.80 m), depth +3 %"
std::string in_words(const Worked& worked);

// A row for each scenario, in course order: how many, median and 95 % of the horizontal error in metres and in shares
// of depth, median and 95 % of the depth error's size, seconds of work, points, and the shares that lie in the bands
// and pass.
std::string table(const std::vector<Worked>& all);

} // namespace sondeyard::scenarios::test
