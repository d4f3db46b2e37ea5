// What attempts say. Outside sources:
//
// | checked                  | against                                                                              |
// | ---                      | ---                                                                                  |
// | slope and its interval   | the worked example of Sen (1968), section 6 (from memory: slope 4, 26/7 to 35/8); SciPy |
// |                          | 1.10.1, scipy.stats.theilslopes with alpha 0.95, gives the same                      |
// | the same, with ties      | scipy.stats.theilslopes, on the rows below                                           |
// | day numbers              | Unix time 0, and 2000-03-01 = day 11017 (86400 s each)                               |
#include "field/coach.hpp"
#include "field/progress_review.hpp"

#include <doctest/doctest.h>

using namespace sondeyard::field;

namespace {

Attempt done(std::string exercise, std::string date, bool passed) {
    Attempt a;
    a.exercise = std::move(exercise);
    a.date = std::move(date);
    a.passed = passed;
    return a;
}

std::vector<Attempt> with_shares(const std::vector<double>& shares) {
    std::vector<Attempt> all;
    for (const double share : shares) {
        all.push_back(done("bank", "2026-03-01 10:00", true));
        all.back().error_share = share;
    }
    return all;
}

} // namespace

TEST_CASE("Slope and interval are those of Sen's worked example") {
    const std::vector<double> x = {1, 2, 3, 4, 10, 12, 18};
    const std::vector<double> y = {9, 15, 19, 20, 45, 55, 78};
    const auto t = trend_of(x, y);
    REQUIRE(t.has_value());
    CHECK(t->slope == doctest::Approx(4.0).epsilon(1e-12));
    CHECK(t->low == doctest::Approx(26.0 / 7.0).epsilon(1e-12));
    CHECK(t->high == doctest::Approx(35.0 / 8.0).epsilon(1e-12));
    CHECK(t->intercept == doctest::Approx(4.0).epsilon(1e-12));
}

TEST_CASE("Slope and interval are those of SciPy's theilslopes") {
    const std::vector<double> falling = {0.31, 0.27, 0.29, 0.22, 0.24, 0.18, 0.2, 0.15, 0.16, 0.11};
    const std::vector<double> ten = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
    const auto t = trend_of(ten, falling);
    REQUIRE(t.has_value());
    CHECK(t->slope == doctest::Approx(-0.020000000000000004).epsilon(1e-12));
    CHECK(t->low == doctest::Approx(-0.026000000000000002).epsilon(1e-12));
    CHECK(t->high == doctest::Approx(-0.015714285714285715).epsilon(1e-12));
    CHECK(t->intercept == doctest::Approx(0.32000000000000006).epsilon(1e-12));

    const std::vector<double> tied = {0.2, 0.2, 0.3, 0.2, 0.1, 0.3, 0.2, 0.25};
    const auto u = trend_of(std::span(ten).first(tied.size()), tied);
    REQUIRE(u.has_value());
    CHECK(u->slope == doctest::Approx(0.0));
    CHECK(u->low == doctest::Approx(-0.024999999999999994).epsilon(1e-12));
    CHECK(u->high == doctest::Approx(0.04999999999999999).epsilon(1e-12));

    CHECK(!trend_of(std::span(ten).first(5), std::span(ten).first(5)).has_value());
}

TEST_CASE("The trend is said only when its interval leaves zero out") {
    CHECK(error_trend(with_shares({0.31, 0.27, 0.29, 0.22, 0.24, 0.18, 0.2, 0.15, 0.16, 0.11})).word ==
          TrendWord::smaller);
    CHECK(error_trend(with_shares({0.1, 0.12, 0.13, 0.15, 0.16, 0.2, 0.22})).word == TrendWord::larger);
    CHECK(error_trend(with_shares({0.2, 0.2, 0.3, 0.2, 0.1, 0.3, 0.2, 0.25})).word == TrendWord::level);
    CHECK(error_trend(with_shares({0.5, 0.4, 0.3, 0.2, 0.1})).word == TrendWord::too_few);
    // One wild attempt among ten does not turn it.
    CHECK(error_trend(with_shares({0.31, 0.27, 0.29, 0.22, 0.24, 0.18, 0.2, 0.15, 3.0, 0.11})).word ==
          TrendWord::smaller);
    CHECK(sentence_of(error_trend({})).find("none known") != std::string::npos);
    CHECK(sentence_of(error_trend(with_shares({0.25}))) ==
          "Errors: 25 % of the depth lately. A trend can be told from 6 attempts on; there is 1.");
    CHECK(sentence_of(error_trend(with_shares({0.31, 0.27, 0.29, 0.22, 0.24, 0.18, 0.2, 0.15, 0.16, 0.11}))) ==
          "Errors: 17 % of the depth lately, getting smaller: by 2.0 % of the depth each attempt (95 %: 1.6 to 2.6).");
}

TEST_CASE("A trend over several exercises is said to be perhaps theirs") {
    std::vector<Attempt> attempts = with_shares({0.1, 0.12, 0.13, 0.15, 0.16, 0.2, 0.22});
    const std::string alike = sentence_of(error_trend(attempts));
    CHECK(alike.find("not equally hard") == std::string::npos);
    attempts[5].exercise = attempts[6].exercise = "deep";
    attempts[0].exercise = "left out";
    attempts[0].error_share.reset();
    CHECK(error_trend(attempts).exercises == 2);
    CHECK(sentence_of(error_trend(attempts))
              .ends_with("They are of 2 exercises, not equally hard: part of it may be the yards."));
}

TEST_CASE("Only the last attempts make the trend, and those without a locate are passed over") {
    std::vector<double> shares(200, 0.1);
    std::vector<Attempt> attempts = with_shares(shares);
    attempts[150].error_share.reset();
    const ErrorTrend t = error_trend(attempts);
    CHECK(t.share.size() == most_for_trend);
    CHECK(t.attempt.back() == 199);
    CHECK(t.attempt.front() == 139);
}

TEST_CASE("What is weak is told from enough attempts, the weakest first") {
    std::vector<Attempt> attempts;
    for (int i = 0; i < 4; ++i) {
        Attempt a = done("bank", "2026-03-01 10:00", true);
        a.parts = PartPoints{full_position_points, 7, 10, full_dig_points, 4};
        a.missed = {"lift_check", "walked_off"};
        attempts.push_back(a);
    }
    CHECK(weakness_of(attempts, {}).parts.empty());
    CHECK(sentences_of(weakness_of(attempts, {})).front().find("from 5 exercises on; there are 4") !=
          std::string::npos);
    attempts.push_back(done("bank", "2026-03-01 10:00", true)); // of an older program: its parts are not known
    CHECK(weakness_of(attempts, {}).parts.empty());
    attempts.push_back(attempts.front());
    attempts.back().missed = {"walked_off"};
    const Weakness w = weakness_of(attempts, {});
    REQUIRE(w.parts.size() == 5);
    CHECK(w.parts[0].part == "procedure");
    CHECK(w.parts[0].share == doctest::Approx(0.25));
    CHECK(w.parts[0].most_missed == "walked_off");
    CHECK(w.parts[0].missed == 5);
    CHECK(w.parts[1].part == "depth");
    const auto said = sentences_of(w);
    REQUIRE(said.size() == 2);
    CHECK(
        said[0] ==
        "Procedure: 25 % of its points in the last 5 exercises, the easier ones weighed more. Missed most: walked off "
        "(5 of 5).");
    for (Attempt& a : attempts) {
        a.parts = PartPoints{full_position_points, full_depth_points, full_tilt_points, full_dig_points,
                             full_procedure_points};
    }
    CHECK(sentences_of(weakness_of(attempts, {})).front().starts_with("Nothing stands out"));
}

TEST_CASE("Only the last ten attempts say what is weak") {
    std::vector<Attempt> attempts(30, done("bank", "2026-03-01 10:00", true));
    for (std::size_t i = 0; i < attempts.size(); ++i) {
        attempts[i].parts = i < 20 ? PartPoints{} : PartPoints{40, 14, 10, 20, 16};
    }
    CHECK(weakness_of(attempts, {}).parts.front().share == doctest::Approx(1.0));
}

TEST_CASE("What is lost in an easy exercise weighs more than what is lost in a hard one") {
    const std::vector<std::string> course = {"easy", "middle", "hard"};
    const auto with_loss_in = [&](const std::string& lossy) {
        std::vector<Attempt> attempts;
        for (const char* const exercise : {"easy", "easy", "middle", "hard", "hard"}) {
            attempts.push_back(done(exercise, "2026-03-01 10:00", true));
            attempts.back().parts = PartPoints{lossy == exercise ? 0 : full_position_points, full_depth_points,
                                               full_tilt_points, full_dig_points, full_procedure_points};
        }
        const Weakness w = weakness_of(attempts, course);
        CHECK(w.parts.front().part == "position");
        return w.parts.front().share;
    };
    // Weights 1, 1, 0.75, 0.5, 0.5: 1.75 of 3.75 are left, and 2.75 of 3.75.
    CHECK(with_loss_in("easy") == doctest::Approx(1.75 / 3.75));
    CHECK(with_loss_in("hard") == doctest::Approx(2.75 / 3.75));
}

TEST_CASE("A lesson's test, which asks for some parts only, does not say what is weak") {
    std::vector<Attempt> attempts(6, done("lesson:sweeping", "2026-03-01 10:00", true));
    for (Attempt& a : attempts) {
        a.parts = PartPoints{};
        a.findings = std::vector<std::string>{"too_fast"};
    }
    const Weakness w = weakness_of(attempts, {});
    CHECK(w.attempts == 0);
    CHECK(w.parts.empty());
    CHECK(w.findings.empty());
}

TEST_CASE("A finding comes back from its second time on, among those attempts that a coach has seen") {
    std::vector<Attempt> attempts(4, done("bank", "2026-03-01 10:00", true)); // of an older program
    const auto found = [&](std::vector<std::string> keys) {
        attempts.push_back(done("bank", "2026-03-02 10:00", true));
        attempts.back().findings = std::move(keys);
        return weakness_of(attempts, {});
    };
    CHECK(found({"too_fast", "trusted_peak"}).findings.empty());
    const Weakness twice = found({"too_fast"});
    REQUIRE(twice.findings.size() == 1);
    CHECK(twice.findings[0].finding == "too_fast");
    CHECK(twice.findings[0].times == 2);
    CHECK(twice.coached == 2);
    CHECK(sentences_of(twice).back() == "Comes back: the tip moved faster than the display follows (2 of 2).");
    CHECK(found({"trusted_peak"}).findings.size() == 2);
    CHECK(found({"trusted_peak"}).findings.front().finding == "trusted_peak"); // three times
    for (int i = 0; i < 5; ++i) {
        found({});
    }
    CHECK(weakness_of(attempts, {}).findings.size() == 1); // too_fast: two of nine are too few
    for (int i = 0; i < 10; ++i) {
        found({});
    }
    CHECK(weakness_of(attempts, {}).findings.empty()); // long ago
    for (const std::string_view key : finding_keys()) {
        CHECK_FALSE(finding_words(key).empty());
    }
    CHECK(finding_words("no such key").empty());
}

TEST_CASE("What comes next in the course stands first, for whoever has begun it; each lesson once") {
    const std::vector<LessonTopic> lessons = {{"first", {}}, {"second", {"depth"}}, {"third", {}}, {"mock", {"depth"}}};
    Weakness weak;
    weak.parts = {{.part = "depth", .attempts = 5, .share = 0.3, .most_missed = {}, .missed = 0}};
    std::vector<Attempt> attempts;
    const auto taken = [&](const char* name, bool passed) {
        Attempt a;
        a.exercise = name;
        a.passed = passed;
        a.date = "2026-03-01 10:00";
        attempts.push_back(a);
    };
    const auto all = [&] {
        std::string text;
        for (const Practice& p : lessons_to_take(weak, attempts, lessons, "2026-03-01")) {
            text += p.exercise.substr(7) + ": " + reason_of(p) + "; ";
        }
        return text;
    };
    taken("level-lawn", false);
    CHECK(all() == "second: weak so far: depth; "); // no lesson was begun
    taken("lesson:first", true);
    taken("lesson:third", false);
    CHECK(all() == "third: not passed yet; second: weak so far: depth; ");
    weak.parts.clear();
    CHECK(all() == "third: not passed yet; second: next in the course; ");
    for (const char* name : {"lesson:second", "lesson:third", "lesson:mock"}) {
        taken(name, true);
    }
    CHECK(all().empty());
}

TEST_CASE("Lessons are proposed for what comes back, then for weak parts, as long as they are not done with") {
    const std::vector<LessonTopic> lessons = {
        {"first", {"depth"}}, {"speed", {"too_fast"}}, {"second", {"depth", "too_fast"}}, {"other", {"tilt"}}};
    Weakness weak;
    weak.parts = {{.part = "depth", .attempts = 5, .share = 0.3, .most_missed = {}, .missed = 0},
                  {.part = "tilt", .attempts = 5, .share = 0.9, .most_missed = {}, .missed = 0}};
    weak.findings = {{"too_fast", 3}};
    std::vector<Attempt> attempts;
    const auto names = [&](const char* today) {
        std::string all;
        for (const Practice& p : lessons_for(weak, attempts, lessons, today)) {
            all += p.exercise + " ";
        }
        return all;
    };
    CHECK(names("2026-03-01") == "lesson:speed lesson:first ");
    const auto proposed = lessons_for(weak, attempts, lessons, "2026-03-01");
    CHECK(reason_of(proposed[0]) == "came back: the tip moved faster than the display follows");
    CHECK(reason_of(proposed[1]) == "weak so far: depth");
    attempts = {done("lesson:speed", "2026-03-01 09:00", false)};
    CHECK(names("2026-03-01") == "lesson:speed lesson:first "); // not passed: at once again
    attempts.push_back(done("lesson:speed", "2026-03-01 10:00", true));
    CHECK(names("2026-03-01") == "lesson:second lesson:first "); // passed: the next one that helps
    CHECK(names("2026-03-20") == "lesson:speed lesson:first ");  // and due again later
    weak.findings.clear();
    weak.parts.front().share = 0.8;
    CHECK(names("2026-03-20").empty());
}

TEST_CASE("What is due and far ahead of what was passed comes after what is within reach") {
    const std::vector<std::string> course = {"0", "1", "2", "3", "4", "5", "6"};
    std::vector<Attempt> attempts = {done("6", "2026-03-01 09:00", false), done("3", "2026-03-05 09:00", false),
                                     done("1", "2026-03-05 10:00", true)};
    const auto next = practise_next(attempts, course, "2026-03-10");
    CHECK(next[0].exercise == "3");
    CHECK(next[1].exercise == "1");
    CHECK(next[2].exercise == "6"); // longest overdue, five places ahead of the hardest one passed
    CHECK(reason_of(next[2]) == "not passed last time, due for 8 days, far ahead of what was passed");
    CHECK(next[3].exercise == "0");
    attempts.push_back(done("3", "2026-03-06 09:00", true));
    CHECK(practise_next(attempts, course, "2026-03-10").front().exercise == "6");
}

TEST_CASE("Boxes: up when passed as it is due, back to the first when not") {
    const std::vector<std::string> course = {"a"};
    std::vector<Attempt> attempts;
    const auto box_after = [&](const char* date, bool passed) {
        attempts.push_back(done("a", std::string(date) + " 12:00", passed));
        return practise_next(attempts, course, date).front();
    };
    CHECK(practise_next(attempts, course, "2026-03-01").front().box == 0);
    CHECK(box_after("2026-03-01", false).box == 1);
    CHECK(box_after("2026-03-01", true).box == 1);    // not due before tomorrow
    CHECK(box_after("2026-03-02", true).box == 2);    // due
    CHECK(box_after("2026-03-02", true).box == 2);    // again on the same day: no more than that
    CHECK(box_after("2026-03-03", true).due_in == 1); // due on the 4th, still
    CHECK(box_after("2026-03-04", true).box == 3);
    CHECK(box_after("2026-03-04", true).due_in == 4);
    CHECK(box_after("2026-03-20", true).box == 4); // late is no fault
    CHECK(box_after("2026-03-21", false).box == 1);
    CHECK(box_after("2026-03-21", false).due_in == 1);
    for (int year = 2027; year < 2040; ++year) {
        box_after((std::to_string(year) + "-01-01").c_str(), true);
    }
    CHECK(practise_next(attempts, course, "2039-01-01").front().box == static_cast<int>(box_days.size()));
    attempts = {done("a", "2026-03-01", true)};
    CHECK(practise_next(attempts, course, "2026-03-01").front().due_in == 2); // passed at once: box 2
}

TEST_CASE("What is due comes first, then what is new, then what is due later") {
    const std::vector<std::string> course = {"new-1", "later", "overdue", "due", "new-2"};
    const std::vector<Attempt> attempts = {
        done("overdue", "2026-03-01 09:00", false), done("due", "2026-03-09 09:00", false),
        done("later", "2026-03-10 09:00", true), done("gone-from-the-course", "2026-03-10 09:00", true)};
    const auto next = practise_next(attempts, course, "2026-03-10");
    REQUIRE(next.size() == 5);
    const std::vector<std::string> order = {next[0].exercise, next[1].exercise, next[2].exercise, next[3].exercise,
                                            next[4].exercise};
    CHECK(order == std::vector<std::string>{"overdue", "due", "new-1", "new-2", "later"});
    CHECK(reason_of(next[0]) == "not passed last time, due for 8 days");
    CHECK(reason_of(next[1]) == "not passed last time, due today");
    CHECK(reason_of(next[2]) == "not tried yet");
    CHECK(reason_of(next[4]) == "passed last time, due in 2 days");
}

TEST_CASE("Days in a row end today or yesterday") {
    const auto days = [](std::vector<std::string> dates, const char* today) {
        std::vector<Attempt> attempts;
        for (std::string& date : dates) {
            attempts.push_back(done("a", std::move(date), true));
        }
        return streak_days(attempts, today);
    };
    CHECK(days({}, "2026-03-01") == 0);
    CHECK(days({"2026-03-01 10:00"}, "2026-03-01") == 1);
    CHECK(days({"2026-02-27 10:00", "2026-02-28 10:00", "2026-02-28 11:00", "2026-03-01 10:00"}, "2026-03-01") == 3);
    CHECK(days({"2026-02-27 10:00", "2026-02-28 10:00"}, "2026-03-01") == 2); // today is not over
    CHECK(days({"2026-02-26 10:00", "2026-02-27 10:00"}, "2026-03-01") == 0);
    CHECK(days({"2026-02-26 10:00", "2026-02-28 10:00", "2026-03-01 10:00"}, "2026-03-01") == 2);
    CHECK(days({"2026-03-05 10:00", "2026-03-01 10:00"}, "2026-03-01") == 1); // a clock that was put back
    CHECK(days({"soon", "2026-03-01 10:00"}, "2026-03-01") == 1);
    CHECK(days({"2026-03-01 10:00"}, "today") == 0);
}

TEST_CASE("Day numbers") {
    CHECK(day_number("1970-01-01") == 0);
    CHECK(day_number("2000-03-01 23:59") == 11017);
    CHECK(day_number("2024-02-29").has_value());
    CHECK(!day_number("2023-02-29").has_value());
    for (const char* bad :
         {"", "2026-3-01", "2026-03-1", "26-03-01", "2026/03/01", "2026-13-01", "+026-03-01", "2026-03-0x"}) {
        CAPTURE(bad);
        CHECK(!day_number(bad).has_value());
    }
}
