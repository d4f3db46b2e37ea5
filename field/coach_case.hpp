// What the coach's files have in common: the exercise laid beside the truth. Private to coach*.cpp.
#pragma once

#include "field/coach.hpp"
#include "field/coach_limits.hpp"
#include "field/track.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sondeyard::field::coaching {

struct Case {
    const Setting& setting;
    const ExerciseState& state;
    const Score& score;
    Units units;
    SondeTruth sonde; // as it lay when the locate was marked
    sim::Scene scene; // with the sonde there
    TrackSpots spots;
    const Mark* locate = nullptr;
    std::vector<Mark> marks;    // those made while the sonde lay there, the locate left out
    bool locate_judged = false; // there is one, and it counts against the sonde as it lay then
    double off_m = 0.0;         // its horizontal error, 0 without
    double position_lost = 0.0; // points
    double depth_lost = 0.0;
    double tilt_deg = 0.0;
    double dig_lost = 0.0; // because the dig box lies off by as much as the locate

    // What an item of the procedure cost: nothing when it was done or does not apply.
    double item(std::string_view key) const;
    // What a wrong place cost: of position, and of a dig that missed by as much as the locate.
    Cost misplaced() const { return {.position = position_lost, .dig = dig_lost}; }
    // The same, or what an item of the procedure is worth when no more was lost.
    Cost position_or(std::string_view item_key) const;

    std::string length(double m) const { return length_text(m, units); }
    std::string small(double m) const { return error_text(m, units); }
    // "0.35 m north-east", from a place to another.
    std::string way(const glm::dvec2& from_m, const glm::dvec2& to_m) const;
};
Case make_case(const Setting& setting, const ExerciseState& state, const Score& score, Units units);

// How high the tip was at a tick, by the points of the trail round it: that before, when it was held there (it may be
// lowered right after the mark, within the 0.1 s to the next point); else the lower of the two. 0 when there are not both.
double tip_height_at_m(const ExerciseState& state, std::int64_t tick);

// A question with its options in an order that hangs on the tick; the first of `options` is the right one.
CoachQuestion asked(std::string ask, std::vector<std::string> options, std::int64_t tick);

// Begins a finding about a mark, a reading or whatever else has its tick and place.
template <class Moment>
Finding finding(std::string_view key, const Moment& moment) {
    Finding f;
    f.key = key;
    f.tick = moment.tick;
    f.place_m = moment.place_m;
    return f;
}

using Findings = std::vector<Finding>;
void add_frequency_finding(const Case& c, Findings& out); // coach_work.cpp
void add_speed_finding(const Case& c, Findings& out);
void add_dig_findings(const Case& c, Findings& out);
bool add_coupling_finding(const Case& c, Findings& out); // coach_marks.cpp; true: the locate stands by another source
void add_mark_findings(const Case& c, bool elsewhere, Findings& out);
const Mark* last_peak(const Case& c);                  // mark of a peak; nullptr: there is none
bool rests_on_a_mark(const Case& c);                   // the locate, or on the middle of two plumb marks
bool add_mistaken_spots(const Case& c, Findings& out); // coach_spots.cpp; true: the peak or the locate is another spot
void add_plumb_point_findings(const Case& c, Findings& out);
void add_tilt_finding(const Case& c, Findings& out);
void add_unproved_locate(const Case& c, Findings& out); // coach_left_out.cpp; after the other findings on the locate
void add_not_called(const Case& c, const ScoreParts& asked_parts, Findings& out);
void add_depth_findings(const Case& c, Findings& out); // coach_depth.cpp

} // namespace sondeyard::field::coaching
