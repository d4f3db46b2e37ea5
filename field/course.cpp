// How a lesson goes on: its steps one after the other, and its test judged.
#include "field/course.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sondeyard::field {

namespace {

constexpr int passes_for_steps = 1;
constexpr int passes_for_goal = 2;

// The step that this one leads up to, or itself.
std::size_t led_up_to(const CourseLesson& lesson, std::size_t step) {
    while (step + 1 < lesson.steps.size() && lesson.steps[step].leads_up) {
        ++step;
    }
    return step;
}

} // namespace

ScoreParts asked_of(const LessonTest& test) {
    if (test.points_at_least) {
        return {};
    }
    return {.position = test.locate_within_m.has_value(),
            .depth = test.depth_within_percent.has_value(),
            .tilt = test.tilt_right,
            .dig = test.dig_on_pipe || test.dig_safe,
            .procedure = false}; // a test's own needs say which of it, and how they were met
}

Guidance guidance_after(int passes) {
    return passes >= passes_for_goal ? Guidance::goal : passes >= passes_for_steps ? Guidance::steps : Guidance::full;
}

std::string_view name_of(Guidance guidance) {
    switch (guidance) {
    case Guidance::full:
        return "full";
    case Guidance::steps:
        return "steps";
    case Guidance::goal:
        return "goal";
    }
    return "";
}

bool steps_done(const CourseLesson& lesson, const LessonWork& work) { return work.step >= lesson.steps.size(); }

void follow(const CourseLesson& lesson, const Setting& setting, const ExerciseState& state, const Observation& seen,
            LessonWork& work) {
    if (steps_done(lesson, work)) {
        return;
    }
    look(lesson.steps[work.step].done_when, setting, state, seen, work.watch);
    std::size_t done_up_to = work.watch.done ? work.step + 1 : work.step;
    if (const std::size_t aim = led_up_to(lesson, work.step); aim != work.step) {
        Watch fresh; // what lasts needs no memory of how it came about
        look(lesson.steps[aim].done_when, setting, state, seen, fresh);
        done_up_to = fresh.done ? aim + 1 : done_up_to;
    }
    for (; work.step < done_up_to; ++work.step) { // the next one is looked at from the next tick on
        work.done_ticks.push_back(state.tick);
        work.watch = Watch{};
    }
}

void follow(const LessonTest& test, const Setting& setting, const ExerciseState& state, const Observation& seen,
            TestWork& work) {
    work.needs.resize(test.needs.size());
    for (std::size_t i = 0; i < test.needs.size(); ++i) {
        look(test.needs[i].done_when, setting, state, seen, work.needs[i]);
    }
}

// ---- Judging ----

namespace {

bool safe(const Score& s) {
    return s.dig_outcome != DigOutcome::none &&
           std::ranges::none_of(s.safety, [](const SafetyItem& i) { return i.judged && i.failed; });
}

std::string why_unsafe(const Score& s) {
    const auto failed = std::ranges::find_if(s.safety, [](const SafetyItem& i) { return i.judged && i.failed; });
    return s.dig_outcome == DigOutcome::none ? "no dig box" : failed == s.safety.end() ? "safe" : failed->evidence;
}

Requirement locate_of(double within_m, const Score& s) {
    Requirement r{"locate", fmt::format("within {{{:.2f} m}} of the sonde", within_m), "none marked", false};
    if (s.horizontal_error_m) {
        r.found = fmt::format("{{{:.2f} m}} off", *s.horizontal_error_m);
        r.met = *s.horizontal_error_m <= within_m;
    }
    return r;
}

Requirement depth_of(double within_percent, const Score& s) {
    Requirement r{"depth", fmt::format("within {:g} % of the true depth", within_percent), "none called", false};
    if (s.depth_call_m && s.depth_error_percent) {
        r.found = fmt::format("{{{:.2f} m}} called for {{{:.2f} m}}, {:+.0f} %", *s.depth_call_m, s.depth_at_mark_m,
                              *s.depth_error_percent);
        r.met = std::abs(*s.depth_error_percent) <= within_percent;
    } else if (s.depth_call_m) {
        r.found = "called without a locate";
    }
    return r;
}

Requirement tilt_of(const ExerciseState& state, const Score& s) {
    return {"tilt", "called right",
            s.tilt.called
                ? fmt::format("called {}, was {:.0f} deg", name_of(state.notebook.tilt_call), s.tilt.true_tilt_deg)
                : std::string("not called"),
            s.tilt.right};
}

} // namespace

std::vector<Requirement> judge(const LessonTest& test, const ExerciseState& state, const Score& score,
                               const TestWork& work) {
    std::vector<Requirement> all;
    if (test.locate_within_m) {
        all.push_back(locate_of(*test.locate_within_m, score));
    }
    if (test.depth_within_percent) {
        all.push_back(depth_of(*test.depth_within_percent, score));
    }
    if (test.tilt_right) {
        all.push_back(tilt_of(state, score));
    }
    if (test.dig_on_pipe) {
        all.push_back({"dig", "on the pipe, and safe",
                       score.dig_outcome == DigOutcome::on_the_pipe ? fmt::format("on the pipe, {}", why_unsafe(score))
                                                                    : std::string(name_of(score.dig_outcome)),
                       score.dig_outcome == DigOutcome::on_the_pipe && safe(score)});
    }
    if (test.dig_safe) {
        all.push_back({"dig", "safe", why_unsafe(score), safe(score)});
    }
    if (test.points_at_least) {
        all.push_back({"points", fmt::format("{} of 100", *test.points_at_least), fmt::format("{}", score.points),
                       score.points >= *test.points_at_least});
    }
    if (test.time_at_most_s) {
        const std::int64_t most = std::llround(*test.time_at_most_s / tick_s);
        const auto minutes = [](std::int64_t ticks) {
            const std::int64_t s = (ticks + 59) / 60; // the second that was begun counts
            return fmt::format("{}:{:02}", s / 60, s % 60);
        };
        all.push_back({"time", fmt::format("at most {}", minutes(most)), minutes(state.tick),
                       state.finished_tick && state.tick <= most});
    }
    for (std::size_t i = 0; i < test.needs.size(); ++i) {
        const bool met = i < work.needs.size() && work.needs[i].done;
        all.push_back({test.needs[i].text, "done", met ? "done" : "not done", met});
    }
    for (Requirement& r : all) {
        r.met = r.met && state.finished_tick.has_value();
    }
    return all;
}

bool passed(const std::vector<Requirement>& requirements) {
    return !requirements.empty() && std::ranges::all_of(requirements, &Requirement::met);
}

std::vector<std::string> missing(const LessonTest& test, const Notebook& notebook, const TestWork& work) {
    std::vector<std::string> all;
    const auto need = [&](bool asked, bool there, const char* what) {
        if (asked && !there) {
            all.emplace_back(what);
        }
    };
    const bool points = test.points_at_least.has_value();
    const bool dig = test.dig_on_pipe || test.dig_safe || points;
    need(test.locate_within_m || points || test.depth_within_percent, find_last(notebook, MarkKind::locate) != nullptr,
         "no locate marked");
    need(test.depth_within_percent || points, notebook.depth_call_m.has_value(), "no depth called");
    need(test.tilt_right || points, notebook.tilt_call != TiltCall::none, "no tilt called");
    need(dig, notebook.dig.has_value(), "no dig box");
    need(dig && notebook.dig, notebook.dig && notebook.dig->depth_m > 0.0, "the dig box has no depth");
    need(dig && notebook.dig, notebook.dig && notebook.dig->method != DigMethod::none, "not said how it is dug");
    for (std::size_t i = 0; i < test.needs.size(); ++i) {
        if (i >= work.needs.size() || !work.needs[i].done) {
            all.push_back(test.needs[i].text);
        }
    }
    return all;
}

} // namespace sondeyard::field
