// The coach: what in an exercise explains its result, in plain words. Each finding has its evidence (time, place,
// figures) and one thing to do next time; it speaks of the work, never of who did it. A finding is given only where the
// record shows it: the limits, each with its reason, stand in field/coach_limits.hpp.
//
// Findings explain; which points of the procedure were left out stands in the score, what the yard did in the debrief's
// notes.
#pragma once

#include "field/lengths.hpp"
#include "field/score.hpp"

#include <nlohmann/json_fwd.hpp>

#include <span>

namespace sondeyard::field {

// Asked before the answer is shown: what one has tried to answer first is kept better (Latimier and others 2021, a
// review of spaced retrieval practice). One option is right; the others are plainly wrong here.
struct CoachQuestion {
    std::string ask;
    std::vector<std::string> options;
    std::size_t right = 0;
};

// Points that a finding can have cost, by the part of the score; the same ones may be named by several findings.
struct Cost {
    double position = 0.0;
    double depth = 0.0;
    double tilt = 0.0;
    double dig = 0.0;
    double procedure = 0.0;
    double total() const { return position + depth + tilt + dig + procedure; }
};

struct Finding {
    std::string_view key; // one of finding_keys()
    std::string title;
    std::string evidence;
    std::string next_time;
    Cost cost;
    double points = 0.0;              // cost.total()
    std::optional<std::int64_t> tick; // the moment, when there is one
    std::optional<glm::dvec2> place_m;
    CoachQuestion question;
};

inline constexpr std::size_t findings_shown = 6; // of a longer list; the rest is counted
inline constexpr std::size_t findings_asked = 3; // at most so many begin with their question,
inline constexpr double asked_from_points = 3.0; // and only those that can have cost more than an item of the procedure
std::size_t questions_of(const std::vector<Finding>& findings);

// All findings, those that can have cost most first; at most one of each key. With parts that were not asked for, only
// those that cost something of the others. Never throws.
std::vector<Finding> coach(const Setting& setting, const ExerciseState& state, const Score& score,
                           Units units = Units::metric, const ScoreParts& asked = {});

// How many of the points lost the findings account for, each point once.
double points_explained(const std::vector<Finding>& findings, const Score& score, const ScoreParts& asked = {});

// In the order of the table in coach.cpp: causes before what they lead to.
std::span<const std::string_view> finding_keys();
// What the finding is in a list of what comes back: "a plumb point marked as the peak". Empty for a key that is none.
std::string_view finding_words(std::string_view key);

// An array for programs; ticks and metres.
nlohmann::ordered_json findings_json(const std::vector<Finding>& findings);

} // namespace sondeyard::field
