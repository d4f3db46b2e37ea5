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

// Exercises alone say what is weak: a lesson's test asks for some parts only. `course` are their names from easy to hard;
// what is lost in an easy yard says more, so an attempt weighs from 1 in the first exercise down to hard_weight in the last
// (one that is in no course weighs in between).
inline constexpr double hard_weight = 0.5;

struct WeakPart {
    std::string_view part; // "position", "depth", "tilt", "dig box", "procedure"
    std::size_t attempts = 0;
    double share = 0.0;      // of its full points, weighed mean over those attempts
    std::string most_missed; // key of the procedure's item missed most often; "procedure" only, may be empty
    std::size_t missed = 0;  // how often
};
inline constexpr std::size_t least_for_weak = 5;   // attempts
inline constexpr std::size_t recent_attempts = 10; // are looked at
inline constexpr double weak_below = 0.7;
struct Recurrence {      // a finding of the coach that comes back
    std::string finding; // its key
    std::size_t times = 0;
};
inline constexpr std::size_t least_to_recur = 2;  // times
inline constexpr double recurs_from_share = 0.25; // of the attempts that the coach has looked at
struct Weakness {
    std::size_t attempts = 0;         // that were looked at
    std::vector<WeakPart> parts;      // all five, the weakest first; empty when there are too few attempts
    std::size_t coached = 0;          // of the last recent_attempts
    std::vector<Recurrence> findings; // the most frequent first; an older program's attempts have none
};
Weakness weakness_of(std::span<const Attempt> attempts, std::span<const std::string> course);
// One sentence each: what is weak, what comes back, or that nothing stands out, or that there are too few attempts.
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
    bool ahead = false;  // due, and much harder than what was passed so far
    std::string helps;   // a lesson: what it is proposed for
};
// All of `course` (from easy to hard), what is due first: the longest overdue, in the order of the course where that is
// equal, those that are more than reach_ahead places beyond the hardest one passed last; then what is not tried yet, in
// course order; then what is due later, soonest first. Attempts without a readable date count as of the day before them,
// or the first day. `today` as "2026-03-01".
inline constexpr int reach_ahead = 3;
std::vector<Practice> practise_next(std::span<const Attempt> attempts, std::span<const std::string> course,
                                    std::string_view today);

struct LessonTopic {
    std::string lesson;
    std::vector<std::string> helps_with; // keys of findings, names of parts
};
std::span<const std::string_view> part_names(); // of WeakPart::part
// Lessons for what is weak, "lesson:NAME", before everything else: what comes back first, then the weak parts. For each the
// first of `lessons` (in course order) that helps with it, is due or was not passed yet, and is not proposed already.
inline constexpr std::size_t most_lessons_proposed = 2;
std::vector<Practice> lessons_for(const Weakness& weakness, std::span<const Attempt> attempts,
                                  std::span<const LessonTopic> lessons, std::string_view today);
// What stands before all that, whoever has begun the course: the first lesson that was tried and never passed, then the
// first that was not tried yet. Empty for whoever has taken none.
std::vector<Practice> lessons_next(std::span<const Attempt> attempts, std::span<const LessonTopic> lessons,
                                   std::string_view today);
// Both: what is next in the course, then lessons for what is weak, each once.
std::vector<Practice> lessons_to_take(const Weakness& weakness, std::span<const Attempt> attempts,
                                      std::span<const LessonTopic> lessons, std::string_view today);
std::string reason_of(const Practice& practice); // "due for 3 days", "not tried yet", "due in 2 days"

// ---- Days in a row ----

// Days up to today, or up to yesterday, with at least one attempt each. 0 and 1 are no streak: nothing is said then.
int streak_days(std::span<const Attempt> attempts, std::string_view today);

// Days since 1970-01-01 of "YYYY-MM-DD..."; empty when it is no date. Proleptic Gregorian.
std::optional<int> day_number(std::string_view date);

} // namespace sondeyard::field
