// Lessons in the window: from their list through the guided part to the test, and what became of it.
#include "ui/window/app.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::ui {

void App::show_list(StartList list) {
    start_ui_.list = list;
    start_ui_.selected = list == StartList::lessons ? next_lesson_to_do(lesson_rows_) : next_to_do(rows_, results_);
    start_ui_.bring_into_view = true;
}

void App::change_list(StartList list) {
    if (list != start_ui_.list) { // else the row chosen stays chosen
        show_list(list);
    }
}

void App::begin_part(std::unique_ptr<LessonRun> run, std::uint64_t seed) {
    run->seed = seed;
    begin(run->test ? run->file->test_yard : run->file->yard, seed, -1);
    session_->lesson = std::move(run);
    if (session_->lesson->test) {
        session_->asked = field::asked_of(session_->lesson->lesson().test);
    }
    allow_field(session_->lesson->lesson().field_shown && !session_->lesson->test);
}

void App::begin_lesson(std::shared_ptr<const scenarios::LessonFile> file, int index) {
    auto run = std::make_unique<LessonRun>();
    run->file = std::move(file);
    run->index = index;
    run->passes = count_passes(results_, run->lesson().name);
    const std::uint64_t seed = run->file->seed;
    try {
        begin_part(std::move(run), seed);
    } catch (const std::exception& e) {
        message_ = e.what();
        page_ = Page::start;
    }
}

void App::begin_lesson_row(int index) {
    if (index >= 0 && index < static_cast<int>(lesson_rows_.size())) {
        start_ui_.selected = index;
        const std::string& name = lesson_rows_[static_cast<std::size_t>(index)].name;
        begin_lesson(std::make_shared<const scenarios::LessonFile>(scenarios::bundled_lesson(name)), index);
    }
}

// The lesson's own at first, then a yard for each further time.
std::uint64_t App::next_test_seed() const {
    const std::string name = result_name();
    std::uint64_t seed = session_->lesson->file->test_seed;
    for (const Result& r : results_) {
        seed = r.exercise == name ? std::max(seed, r.seed + 1) : seed;
    }
    return seed;
}

void App::begin_test(std::uint64_t seed) {
    auto run = std::make_unique<LessonRun>(*session_->lesson); // beginning replaces the session
    run->test = true;
    run->passed = false;
    run->test_work = {};
    run->judgement.clear();
    run->passes = count_passes(results_, run->lesson().name);
    try {
        begin_part(std::move(run), seed);
    } catch (const std::exception& e) {
        message_ = e.what();
        page_ = Page::start;
    }
}

void App::go_on_with_lesson() {
    if (page_ != Page::exercise || !session_->lesson) {
        return;
    }
    session_->lesson->looking = session_->ui.layer != MapLayer::none;
    if (test_is_due(*session_->lesson)) {
        begin_test(next_test_seed());
    }
}

// Only a test is a result; a guided part that was finished early is said to be that.
void App::finish_lesson_part() {
    Session& s = *session_;
    LessonRun& run = *s.lesson;
    judge(run, s.state, *s.score);
    s.debrief_ui.message.clear();
    if (run.test) {
        Result result = result_of_work();
        result.exercise = result_name();
        result.seed = s.seed;
        result.passed = run.passed;
        result.date = local_time_text("%Y-%m-%d %H:%M");
        result.log = s.log ? s.log_path.filename().string() : std::string();
        s.debrief_ui.message = keep_result(result);
    }
    show_list(StartList::lessons);
    page_ = Page::lesson_result;
    left_choice_.reset();
    trace_.push_back(fmt::format("lesson result {}", run.passed ? "passed" : "not passed"));
}

void App::next_lesson() { begin_lesson_row(session_->lesson->index + 1); }

void App::draw_lesson_result(ImVec2 size) {
    static constexpr std::array<std::string_view, 4> buttons = {"help", "settings", "night", "start_page"};
    const Session& s = *session_;
    const Layout layout = lay_out_page(size, s.lesson->lesson().title, place_of(*s.lesson, lesson_rows_.size()),
                                       buttons, 2, s.state.tick);
    const float margin = std::round(0.75F * theme_.h);
    const Area inside{ImVec2(layout.plan.origin.x + margin, layout.plan.origin.y + margin / 2),
                      ImVec2(layout.plan.size.x - 2 * margin, layout.plan.size.y - margin)};
    lesson_result_page(theme_, inside, *s.lesson, units(), context(), s.debrief_ui.message, requests_);
}

} // namespace sondeyard::ui
