#include "field/progress_review.hpp"

#include "field/coach.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <charconv>
#include <chrono>
#include <cmath>
#include <map>
#include <numeric>
#include <set>

namespace sondeyard::field {

namespace {

// Equal ones stay in their order. std::stable_sort gets its buffer by a call that C++20's library has deprecated.
template <typename T, typename Less>
void put_in_order(std::vector<T>& all, const Less& less) {
    for (auto at = all.begin(); at != all.end(); ++at) {
        std::rotate(std::upper_bound(all.begin(), at, *at, less), at, std::next(at));
    }
}

double median_of_sorted(std::span<const double> sorted) {
    const std::size_t n = sorted.size();
    return n % 2 == 1 ? sorted[n / 2] : 0.5 * (sorted[n / 2 - 1] + sorted[n / 2]);
}

double median_of(std::span<const double> values) {
    std::vector<double> sorted(values.begin(), values.end());
    std::ranges::sort(sorted);
    return median_of_sorted(sorted);
}

// Variance of Kendall's statistic without trend: (n (n-1) (2n+5) - sum over ties of k (k-1) (2k+5)) / 18.
double kendall_variance(std::span<const double> y) {
    const auto term = [](double n) { return n * (n - 1.0) * (2.0 * n + 5.0); };
    std::vector<double> sorted(y.begin(), y.end());
    std::ranges::sort(sorted);
    double sum = term(static_cast<double>(y.size()));
    for (std::size_t i = 0; i < sorted.size();) {
        std::size_t end = i;
        while (end < sorted.size() && sorted[end] == sorted[i]) {
            ++end;
        }
        sum -= term(static_cast<double>(end - i));
        i = end;
    }
    return sum / 18.0;
}

} // namespace

std::optional<Trend> trend_of(std::span<const double> x, std::span<const double> y) {
    const std::size_t n = y.size();
    if (n < least_for_trend) {
        return std::nullopt;
    }
    std::vector<double> slopes;
    slopes.reserve(n * (n - 1) / 2);
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = i + 1; j < n; ++j) {
            slopes.push_back((y[j] - y[i]) / (x[j] - x[i]));
        }
    }
    std::ranges::sort(slopes);
    constexpr double normal_quantile = 1.959963984540054; // of 97.5 %
    const double half = normal_quantile * std::sqrt(kendall_variance(y));
    const auto count = static_cast<double>(slopes.size());
    const auto last = static_cast<std::ptrdiff_t>(slopes.size()) - 1;
    const auto upper = std::min<std::ptrdiff_t>(std::lrint((count + half) / 2.0), last);
    const auto lower = std::max<std::ptrdiff_t>(std::lrint((count - half) / 2.0) - 1, 0);
    Trend trend;
    trend.slope = median_of_sorted(slopes);
    trend.low = slopes[static_cast<std::size_t>(lower)];
    trend.high = slopes[static_cast<std::size_t>(upper)];
    trend.intercept = median_of(y) - trend.slope * median_of(x);
    return trend;
}

ErrorTrend error_trend(std::span<const Attempt> attempts) {
    ErrorTrend result;
    for (std::size_t i = 0; i < attempts.size(); ++i) {
        const std::optional<double>& share = attempts[i].error_share;
        if (share && std::isfinite(*share)) {
            result.share.push_back(*share);
            result.attempt.push_back(i);
        }
    }
    if (result.share.size() > most_for_trend) {
        const auto early = static_cast<std::ptrdiff_t>(result.share.size() - most_for_trend);
        result.share.erase(result.share.begin(), result.share.begin() + early);
        result.attempt.erase(result.attempt.begin(), result.attempt.begin() + early);
    }
    if (result.share.empty()) {
        return result;
    }
    std::set<std::string_view> exercises;
    for (const std::size_t i : result.attempt) {
        exercises.insert(attempts[i].exercise);
    }
    result.exercises = exercises.size();
    const std::span<const double> all(result.share);
    result.recent_median = median_of(all.last(std::min(all.size(), least_for_trend)));
    std::vector<double> numbers(all.size());
    std::iota(numbers.begin(), numbers.end(), 0.0);
    result.trend = trend_of(numbers, all);
    if (result.trend) {
        result.word = result.trend->high < 0.0  ? TrendWord::smaller
                      : result.trend->low > 0.0 ? TrendWord::larger
                                                : TrendWord::level;
    }
    return result;
}

std::string sentence_of(const ErrorTrend& t) {
    if (t.share.empty()) {
        return "Errors: none known yet. They come with the first locate that is finished.";
    }
    const std::string lately = fmt::format("Errors: {:.0f} % of the depth lately", 100.0 * t.recent_median);
    const auto per_attempt = [&](double sign) {
        const double a = 100.0 * sign * t.trend->low;
        const double b = 100.0 * sign * t.trend->high;
        return fmt::format("by {:.1f} % of the depth each attempt (95 %: {:.1f} to {:.1f})",
                           100.0 * sign * t.trend->slope, std::min(a, b), std::max(a, b));
    };
    const std::string mixed =
        t.exercises < 2
            ? std::string()
            : fmt::format(" They are of {} exercises, not equally hard: part of it may be the yards.", t.exercises);
    switch (t.word) {
    case TrendWord::too_few:
        return fmt::format("{}. A trend can be told from {} attempts on; there {} {}.", lately, least_for_trend,
                           t.share.size() == 1 ? "is" : "are", t.share.size());
    case TrendWord::smaller:
        return fmt::format("{}, getting smaller: {}.{}", lately, per_attempt(-1.0), mixed);
    case TrendWord::larger:
        return fmt::format("{}, getting larger: {}.{}", lately, per_attempt(1.0), mixed);
    case TrendWord::level:
        return fmt::format("{}, with no clear trend over {} attempts.", lately, t.share.size());
    }
    return lately + ".";
}

// ---- What is weak ----

namespace {

struct PartRow {
    std::string_view name;
    int PartPoints::* points;
    int full;
};
constexpr std::array<PartRow, 5> part_rows = {{{"position", &PartPoints::position, full_position_points},
                                               {"depth", &PartPoints::depth, full_depth_points},
                                               {"tilt", &PartPoints::tilt, full_tilt_points},
                                               {"dig box", &PartPoints::dig, full_dig_points},
                                               {"procedure", &PartPoints::procedure, full_procedure_points}}};
constexpr auto parts_by_name = [] {
    std::array<std::string_view, part_rows.size()> all{};
    std::ranges::transform(part_rows, all.begin(), &PartRow::name);
    return all;
}();

// 1 for the first of the course, hard_weight for the last.
double weight_of(const std::string& exercise, std::span<const std::string> course) {
    const auto at = std::ranges::find(course, exercise);
    const double hardness = at == course.end() ? 0.5
                                               : static_cast<double>(at - course.begin()) /
                                                     std::max(1.0, static_cast<double>(course.size()) - 1.0);
    return 1.0 - (1.0 - hard_weight) * hardness;
}

bool is_exercise(const Attempt& a) { return !a.exercise.starts_with(lesson_prefix); }

// The last so many exercises of which something is known, the newest first.
template <typename Known>
std::vector<const Attempt*> recent_exercises(std::span<const Attempt> attempts, Known known) {
    std::vector<const Attempt*> recent;
    for (std::size_t i = attempts.size(); i-- > 0 && recent.size() < recent_attempts;) {
        if (is_exercise(attempts[i]) && known(attempts[i])) {
            recent.push_back(&attempts[i]);
        }
    }
    return recent;
}

// How often each key comes up; in the order of the keys, so that equals are always told the same way.
using Counts = std::map<std::string, std::size_t>;

void find_recurrences(std::span<const Attempt> attempts, Weakness& result) {
    const auto coached = recent_exercises(attempts, [](const Attempt& a) { return a.findings.has_value(); });
    result.coached = coached.size();
    Counts counts;
    for (const Attempt* a : coached) {
        for (const std::string& key : *a->findings) {
            ++counts[key];
        }
    }
    const double least =
        std::max(static_cast<double>(least_to_recur), recurs_from_share * static_cast<double>(coached.size()));
    for (const auto& [key, times] : counts) {
        if (static_cast<double>(times) >= least) {
            result.findings.push_back({key, times});
        }
    }
    put_in_order(result.findings, [](const Recurrence& a, const Recurrence& b) { return a.times > b.times; });
}

} // namespace

std::span<const std::string_view> part_names() { return parts_by_name; }

Weakness weakness_of(std::span<const Attempt> attempts, std::span<const std::string> course) {
    Weakness result;
    find_recurrences(attempts, result);
    const auto recent = recent_exercises(attempts, [](const Attempt& a) { return a.parts.has_value(); });
    result.attempts = recent.size();
    if (recent.size() < least_for_weak) {
        return result;
    }
    for (const PartRow& row : part_rows) {
        double sum = 0.0;
        double weights = 0.0;
        for (const Attempt* a : recent) {
            const double weight = weight_of(a->exercise, course);
            sum += weight * static_cast<double>((*a->parts).*row.points) / row.full;
            weights += weight;
        }
        WeakPart part;
        part.part = row.name;
        part.attempts = recent.size();
        part.share = sum / weights;
        result.parts.push_back(part);
    }
    Counts missed;
    for (const Attempt* a : recent) {
        for (const std::string& key : a->missed) {
            ++missed[key];
        }
    }
    for (const auto& [key, times] : missed) {
        if (times > result.parts.back().missed) {
            result.parts.back().most_missed = key;
            result.parts.back().missed = times;
        }
    }
    put_in_order(result.parts, [](const WeakPart& a, const WeakPart& b) { return a.share < b.share; });
    return result;
}

std::vector<std::string> sentences_of(const Weakness& w) {
    std::vector<std::string> all;
    if (w.parts.empty()) {
        all.push_back(fmt::format("What is weak can be told from {} exercises on; there {} {}.", least_for_weak,
                                  w.attempts == 1 ? "is" : "are", w.attempts));
    }
    for (const WeakPart& p : w.parts) {
        if (p.share < weak_below) {
            all.push_back(
                fmt::format("{}: {:.0f} % of its points in the last {} exercises, the easier ones weighed more.",
                            p.part, 100.0 * p.share, p.attempts));
            all.back().front() = static_cast<char>(std::toupper(static_cast<unsigned char>(all.back().front())));
            if (!p.most_missed.empty()) {
                std::string words = p.most_missed;
                std::ranges::replace(words, '_', ' ');
                all.back() += fmt::format(" Missed most: {} ({} of {}).", words, p.missed, p.attempts);
            }
        }
    }
    if (all.empty() && w.findings.empty()) {
        all.push_back(fmt::format("Nothing stands out: each part has {:.0f} % or more of its points in the last {} "
                                  "exercises.",
                                  100.0 * weak_below, w.attempts));
    }
    for (const Recurrence& r : w.findings) {
        const std::string_view words = finding_words(r.finding);
        all.push_back(fmt::format("Comes back: {} ({} of {}).", words.empty() ? r.finding : words, r.times, w.coached));
    }
    return all;
}

// ---- Days ----

std::optional<int> day_number(std::string_view date) {
    int year = 0;
    unsigned month = 0;
    unsigned day = 0;
    const auto part = [&](std::size_t at, std::size_t n, auto& value) {
        const char* const begin = date.data() + at;
        const auto [end, error] = std::from_chars(begin, begin + n, value);
        return error == std::errc() && end == begin + n;
    };
    if (date.size() < 10 || date[4] != '-' || date[7] != '-' || !part(0, 4, year) || !part(5, 2, month) ||
        !part(8, 2, day)) {
        return std::nullopt;
    }
    const std::chrono::year_month_day civil{std::chrono::year(year), std::chrono::month(month), std::chrono::day(day)};
    if (!civil.ok()) {
        return std::nullopt;
    }
    return static_cast<int>(std::chrono::sys_days(civil).time_since_epoch().count());
}

int streak_days(std::span<const Attempt> attempts, std::string_view today) {
    const std::optional<int> now = day_number(today);
    if (!now) {
        return 0;
    }
    std::vector<int> days;
    for (const Attempt& a : attempts) {
        if (const std::optional<int> day = day_number(a.date); day && *day <= *now) {
            days.push_back(*day);
        }
    }
    std::ranges::sort(days);
    int length = 0;
    int expected = days.empty() || days.back() < *now ? *now - 1 : *now;
    for (std::size_t i = days.size(); i-- > 0;) {
        if (days[i] == expected) {
            ++length;
            --expected;
        } else if (days[i] < expected) {
            break;
        }
    }
    return length;
}

// ---- What to practise next ----

namespace {

Practice practice_of(const std::string& exercise, std::span<const Attempt> attempts, int now) {
    const auto interval = [](int box) { return box_days[static_cast<std::size_t>(box - 1)]; };
    Practice p{.exercise = exercise, .helps = {}};
    int due = 0;
    int day = 0;
    for (const Attempt& a : attempts) {
        day = day_number(a.date).value_or(day);
        if (a.exercise != exercise) {
            continue;
        }
        const bool first = p.box == 0;
        p.passed = a.passed;
        if (!a.passed) {
            p.box = 1;
        } else if (first) {
            p.box = 2; // it was in box 1, and due
        } else if (day >= due) {
            p.box = std::min(p.box + 1, static_cast<int>(box_days.size()));
        } else {
            continue; // passed before it was due: neither box nor day change
        }
        due = day + interval(p.box);
    }
    p.due_in = p.box == 0 ? 0 : due - now;
    return p;
}

} // namespace

std::vector<Practice> practise_next(std::span<const Attempt> attempts, std::span<const std::string> course,
                                    std::string_view today) {
    const int now = day_number(today).value_or(0);
    std::vector<Practice> all;
    all.reserve(course.size());
    int hardest_passed = -1;
    for (const std::string& exercise : course) {
        all.push_back(practice_of(exercise, attempts, now));
        const bool ever =
            std::ranges::any_of(attempts, [&](const Attempt& a) { return a.exercise == exercise && a.passed; });
        hardest_passed = ever ? static_cast<int>(all.size()) - 1 : hardest_passed;
    }
    for (std::size_t i = 0; i < all.size(); ++i) {
        all[i].ahead = all[i].box > 0 && all[i].due_in <= 0 && static_cast<int>(i) > hardest_passed + reach_ahead;
    }
    const auto group = [](const Practice& p) { return p.box == 0 ? 2 : p.due_in > 0 ? 3 : p.ahead ? 1 : 0; };
    put_in_order(all, [&](const Practice& a, const Practice& b) {
        return group(a) != group(b) ? group(a) < group(b) : a.due_in < b.due_in;
    });
    return all;
}

std::vector<Practice> lessons_for(const Weakness& weakness, std::span<const Attempt> attempts,
                                  std::span<const LessonTopic> lessons, std::string_view today) {
    const int now = day_number(today).value_or(0);
    std::vector<Practice> all;
    const auto propose = [&](std::string_view weak, std::string helps) {
        for (const LessonTopic& topic : lessons) {
            if (all.size() >= most_lessons_proposed ||
                std::ranges::find(topic.helps_with, weak) == topic.helps_with.end()) {
                continue;
            }
            Practice p = practice_of(fmt::format("{}{}", lesson_prefix, topic.lesson), attempts, now);
            const bool taken = std::ranges::find(all, p.exercise, &Practice::exercise) != all.end();
            if (!taken && (!p.passed || p.due_in <= 0)) {
                p.helps = std::move(helps);
                all.push_back(std::move(p));
                return;
            }
        }
    };
    for (const Recurrence& r : weakness.findings) {
        propose(r.finding, fmt::format("came back: {}", finding_words(r.finding)));
    }
    for (const WeakPart& part : weakness.parts) {
        if (part.share < weak_below) {
            propose(part.part, fmt::format("weak so far: {}", part.part));
        }
    }
    return all;
}

std::vector<Practice> lessons_next(std::span<const Attempt> attempts, std::span<const LessonTopic> lessons,
                                   std::string_view today) {
    const int now = day_number(today).value_or(0);
    std::vector<Practice> all;
    const bool begun = !std::ranges::all_of(attempts, is_exercise);
    const auto add_first = [&](bool tried, std::string_view helps) {
        for (const LessonTopic& topic : lessons) {
            const std::string name = fmt::format("{}{}", lesson_prefix, topic.lesson);
            const auto of_it = [&](const Attempt& a) { return a.exercise == name; };
            const bool passed = std::ranges::any_of(attempts, [&](const Attempt& a) { return of_it(a) && a.passed; });
            if (!passed && std::ranges::any_of(attempts, of_it) == tried) {
                all.push_back(practice_of(name, attempts, now));
                all.back().helps = helps;
                return;
            }
        }
    };
    if (begun) {
        add_first(true, "not passed yet");
        add_first(false, "next in the course");
    }
    return all;
}

std::vector<Practice> lessons_to_take(const Weakness& weakness, std::span<const Attempt> attempts,
                                      std::span<const LessonTopic> lessons, std::string_view today) {
    std::vector<Practice> all = lessons_next(attempts, lessons, today);
    for (Practice& p : lessons_for(weakness, attempts, lessons, today)) {
        const auto same = std::ranges::find(all, p.exercise, &Practice::exercise);
        if (same == all.end()) {
            all.push_back(std::move(p));
        } else {
            same->helps = std::move(p.helps); // the better reason
        }
    }
    return all;
}

std::string reason_of(const Practice& p) {
    if (!p.helps.empty()) {
        return p.helps;
    }
    const auto days = [](int n) { return fmt::format("{} day{}", n, n == 1 ? "" : "s"); };
    if (p.box == 0) {
        return "not tried yet";
    }
    const std::string last = p.passed ? "passed last time" : "not passed last time";
    if (p.due_in > 0) {
        return fmt::format("{}, due in {}", last, days(p.due_in));
    }
    const std::string due = p.due_in == 0 ? "due today" : fmt::format("due for {}", days(-p.due_in));
    return fmt::format("{}, {}{}", last, due, p.ahead ? ", far ahead of what was passed" : "");
}

} // namespace sondeyard::field
