// What the attempts of one person say: how the errors go, what is weak, what to practise next. Pure functions of the
// attempts and of today's date; too few attempts are said to be too few.
#pragma once

#include "field/progress.hpp"

#include <array>

namespace sondeyard::field {

// ---- Trend ----

// The median of the slopes between all pairs of points: one wild value in four does not turn it. Theil (1950); interval
// of 95 % by Kendall's statistic, Sen (1968), J. Am. Stat. Assoc. 63, 1379-1389, with his correction for ties of y, in
// the normal approximation.
struct Trend {
    double slope = 0.0; // of y by x
    double low = 0.0;   // the interval
    double high = 0.0;
    double intercept = 0.0; // median of y less slope times median of x
};
inline constexpr std::size_t least_for_trend = 6; // below it the interval is all slopes there are
// As many x as y, x rising. Empty for fewer than least_for_trend values. All values finite.
std::optional<Trend> trend_of(std::span<const double> x, std::span<const double> y);

enum class TrendWord { too_few, smaller, larger, level }; // of the errors; level: the interval holds 0
struct ErrorTrend {
    std::vector<double> share;        // error in plan over true depth, of the attempts that have one, oldest first
    std::vector<std::size_t> attempt; // which attempt each belongs to
    std::optional<Trend> trend;       // x: 0, 1, 2 ..., so that it is by attempt
    TrendWord word = TrendWord::too_few;
    double recent_median = 0.0; // of the last least_for_trend, or of all there are; 0 when there is none
    std::size_t exercises = 0;  // different ones among them: yards are not equally hard, so a trend over several may be
                                // theirs, and the sentence says so
};
inline constexpr std::size_t most_for_trend = 60; // the last so many are looked at
ErrorTrend error_trend(std::span<const Attempt> attempts);
// "Errors: 14 % of the depth lately, getting smaller: by 1.2 % of the depth each attempt (95 %: 0.4 to 2.0)."
// and, over more than one exercise, "They are of 5 exercises, not equally hard: part of it may be the yards."
std::string sentence_of(const ErrorTrend& trend);

// ---- What is weak ----

struct WeakPart {
    std::string_view part; // "position", "depth", "tilt", "dig box", "procedure"
    std::size_t attempts = 0;
    double share = 0.0;      // of its full points, mean over those attempts
    std::string most_missed; // key of the procedure's item missed most often; "procedure" only, may be empty
    std::size_t missed = 0;  // how often
};
inline constexpr std::size_t least_for_weak = 5;   // attempts
inline constexpr std::size_t recent_attempts = 10; // are looked at
inline constexpr double weak_below = 0.7;
struct Weakness {
    std::size_t attempts = 0;    // that were looked at
    std::vector<WeakPart> parts; // all five, the weakest first; empty when there are too few attempts
};
Weakness weakness_of(std::span<const Attempt> attempts);
// One sentence each: what is weak, or that nothing is, or that there are too few attempts to tell.
std::vector<std::string> sentences_of(const Weakness& weakness);

// ---- What to practise next ----

// Leitner's boxes (S. Leitner, So lernt man lernen, 1972; from memory): an exercise begins in box 1; passed when it is
// due it goes up a box, not passed it goes back to box 1, passed before it is due it stays. Box n is due again after
// box_days[n - 1] days, each twice the one before.
inline constexpr std::array<int, 6> box_days = {1, 2, 4, 8, 16, 32};
struct Practice {
    std::string exercise;
    int box = 0;         // 1 to 6; 0: not tried yet
    int due_in = 0;      // days from today; 0 or less: due
    bool passed = false; // at the last try
};
// All of `course`, what is due first: the longest overdue, in the order of the course where that is equal; then what is
// not tried yet, in course order; then what is due later, soonest first. Attempts without a readable date count as of
// the day before them, or the first day. `today` as "2026-03-01".
std::vector<Practice> practise_next(std::span<const Attempt> attempts, std::span<const std::string> course,
                                    std::string_view today);
std::string reason_of(const Practice& practice); // "due for 3 days", "not tried yet", "due in 2 days"

// ---- Days in a row ----

// Days up to today, or up to yesterday, with at least one attempt each. 0 and 1 are no streak: nothing is said then.
int streak_days(std::span<const Attempt> attempts, std::string_view today);

// Days since 1970-01-01 of "YYYY-MM-DD..."; empty when it is no date. Proleptic Gregorian.
std::optional<int> day_number(std::string_view date);

} // namespace sondeyard::field
