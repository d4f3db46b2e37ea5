// The program's part about people: whose results count, the pages that show them, what their commands do.
#include "ui/window/app.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>

namespace sondeyard::ui {

std::string App::keep_result(const Result& result) {
    std::string trouble = people_.keep(result);
    take_up_results();
    return trouble;
}

std::string App::keep_at_last() { return people_.keep_at_last(); }

void App::take_up_results() {
    results_ = people_.attempts();
    take_results(lesson_rows_, results_);
}

void App::take_up_person() {
    take_up_results();
    show_list(start_ui_.list);
    const auto at = std::ranges::find(people_.all(), people_.current(), &field::Person::id);
    people_ui_.selected = static_cast<int>(at - people_.all().begin());
}

void App::show_people() {
    take_up_person();
    people_ui_.message.clear();
    people_ui_.adding = false;
    page_ = Page::people;
    left_choice_.reset();
}

void App::add_person() {
    people_ui_.typed.fill('\0');
    people_ui_.adding = people_ui_.focus = true;
}

// What the people page left behind: a name that was typed, a row that was chosen.
void App::take_people_requests() {
    if (people_ui_.name) {
        people_ui_.message = people_.add(*std::exchange(people_ui_.name, std::nullopt));
        people_ui_.adding = people_ui_.focus = !people_ui_.message.empty();
        take_up_person();
    }
    if (people_ui_.chosen >= 0 && people_ui_.chosen < static_cast<int>(people_.all().size())) {
        people_ui_.message = people_.choose(people_.all()[static_cast<std::size_t>(people_ui_.chosen)].id);
        take_up_person();
        if (people_ui_.message.empty()) {
            page_ = Page::start;
        }
    }
    people_ui_.chosen = -1;
}

std::string App::title_of(std::string_view exercise) const {
    if (exercise.starts_with(field::lesson_prefix)) {
        const auto lesson =
            std::ranges::find(lesson_rows_, exercise.substr(field::lesson_prefix.size()), &LessonRow::name);
        return lesson == lesson_rows_.end() ? std::string(exercise) : fmt::format("Lesson: {}", lesson->title);
    }
    const auto row = std::ranges::find(rows_, exercise, &CourseRow::name);
    return row == rows_.end() ? std::string(exercise) : row->title;
}

void App::work_out_progress() {
    ProgressFacts facts;
    facts.person = people_.name();
    facts.attempts = results_.size();
    facts.trend = field::error_trend(results_);
    const std::string today = local_time_text("%Y-%m-%d");
    facts.streak = field::streak_days(results_, today);
    const std::vector<std::string> course = scenarios::bundled_names();
    const field::Weakness weakness = field::weakness_of(results_, course);
    facts.weak = field::sentences_of(weakness);
    facts.practise = field::lessons_to_take(weakness, results_, scenarios::bundled_lesson_topics(), today);
    std::ranges::move(field::practise_next(results_, course, today), std::back_inserter(facts.practise));
    for (const field::Practice& practice : facts.practise) {
        facts.titles.push_back(title_of(practice.exercise));
    }
    for (std::size_t i = results_.size(); i-- > 0;) {
        const Result& r = results_[i];
        std::string errors;
        if (r.error_m) {
            errors += fmt::format("  off by {}", field::error_text(*r.error_m, units()));
        }
        if (r.depth_error_m) {
            errors += fmt::format("  depth by {}", field::error_text(*r.depth_error_m, units()));
        }
        const std::string_view verdict = r.passed ? "passed" : "not passed";
        const bool lesson = r.exercise.starts_with(field::lesson_prefix); // its test asks for a part of the points only
        facts.rows.push_back({r.date, title_of(r.exercise),
                              lesson ? std::string(verdict) : fmt::format("{}, {}", r.points, verdict),
                              std::move(errors), r.passed, !people_.log_path(r).empty()});
    }
    progress_ = std::move(facts);
}

void App::show_progress() {
    work_out_progress();
    progress_ui_ = ProgressUi{};
    page_ = Page::progress;
    left_choice_.reset();
}

void App::take_progress_requests() {
    if (progress_ui_.begin >= 0 && progress_ui_.begin < static_cast<int>(progress_.practise.size())) {
        const std::string& name = progress_.practise[static_cast<std::size_t>(progress_ui_.begin)].exercise;
        if (name.starts_with(field::lesson_prefix)) {
            const auto lesson =
                std::ranges::find(lesson_rows_, name.substr(field::lesson_prefix.size()), &LessonRow::name);
            begin_lesson_row(static_cast<int>(lesson - lesson_rows_.begin()));
        } else {
            const auto row = std::ranges::find(rows_, name, &CourseRow::name);
            begin_row(static_cast<int>(row - rows_.begin()), next_seed(name));
        }
    } else if (progress_ui_.open >= 0 && progress_ui_.open < static_cast<int>(results_.size())) {
        open_attempt(results_[results_.size() - 1 - static_cast<std::size_t>(progress_ui_.open)]);
    }
    progress_ui_.begin = progress_ui_.open = -1;
}

void App::open_attempt(const Result& result) {
    const std::filesystem::path log = people_.log_path(result);
    if (log.empty()) {
        progress_ui_.message = result.log.empty() ? "That attempt has no work log."
                                                  : fmt::format("Its work log is gone: logs/{}.", result.log);
        return;
    }
    if (!try_to_open_log(log)) { // the start page says why it cannot be
        return;
    }
    for (const LessonRow& row : lesson_rows_) {
        if (result.exercise == lesson_result_name(row.name)) { // the log does not say that it is one
            session_->asked = field::asked_of(scenarios::bundled_lesson(row.name).lesson.test);
            session_->test_passed = result.passed;
        }
    }
}

void App::export_csv() {
    std::filesystem::path written;
    const std::string trouble = people_.export_csv(written);
    progress_ui_.message = trouble.empty() ? fmt::format("Written: {}", written.string()) : trouble;
    trace_.push_back(trouble.empty() ? fmt::format("csv {}", written.string()) : "csv failed");
}

void App::confirm_delete() {
    const std::string name = people_.name();
    const std::string trouble = people_.remove(people_.current(), progress_ui_.logs_too);
    take_up_person();
    show_people();
    people_ui_.message = trouble.empty() ? fmt::format("{} is deleted.", name) : trouble;
}

// Up and Down on the three pages that have rows.
void App::choose_row(int by) {
    const auto chosen = [by](int now, std::size_t rows) {
        return std::clamp(now + by, 0, std::max(0, static_cast<int>(rows) - 1));
    };
    if (page_ == Page::people) {
        people_ui_.selected = chosen(people_ui_.selected, people_.all().size());
    } else if (page_ == Page::progress) {
        progress_ui_.selected = chosen(progress_ui_.selected, progress_.rows.size());
        progress_ui_.bring_into_view = true;
    } else {
        start_ui_.selected =
            chosen(start_ui_.selected, start_ui_.list == StartList::lessons ? lesson_rows_.size() : rows_.size());
        start_ui_.bring_into_view = true;
    }
}

void App::open_row() {
    if (page_ == Page::people) {
        people_ui_.chosen = people_ui_.selected;
        take_people_requests();
    } else if (page_ == Page::progress) {
        progress_ui_.open = progress_ui_.selected;
        take_progress_requests();
    } else {
        start_ui_.begin = start_ui_.selected;
    }
}

void App::draw_people(ImVec2 size) {
    static constexpr std::array<std::string_view, 4> buttons = {"progress", "start_page", "help", "settings"};
    const Layout layout = lay_out_page(size, "Who practises", people_.name(), buttons);
    people_page(theme_, layout.plan, people_, context(), people_ui_, requests_);
}

void App::draw_progress(ImVec2 size) {
    static constexpr std::array<std::string_view, 4> buttons = {"people", "start_page", "help", "settings"};
    const Layout layout = lay_out_page(size, "Progress", people_.name(), buttons);
    progress_page(theme_, layout.plan, progress_, context(), scroll_, progress_ui_, requests_);
}

} // namespace sondeyard::ui
