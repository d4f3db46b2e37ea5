// The program's pages: how large they are written, and what each is given to show of the state.
#include "ui/window/app.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::ui {

namespace {

// Writing that can be read at an arm's length on a display of this many lines.
double scale_of_screen(int screen_height) {
    return screen_height < 1000 ? 1.0 : screen_height < 1300 ? 1.15 : screen_height < 1700 ? 1.5 : 2.0;
}

constexpr std::int64_t check_shown_ticks = 10 * 60;
constexpr float least_lesson_window_h = 52.0F; // in text heights

// The NEXT line fades with practice: full for three exercises, gone after nine.
float next_strength(const Settings& settings) {
    if (settings.next_line == NextLine::off) {
        return 0.0F;
    }
    if (settings.next_line == NextLine::always) {
        return 1.0F;
    }
    return std::clamp(1.0F - static_cast<float>(settings.exercises_done - 3) / 6.0F, 0.0F, 1.0F);
}

} // namespace

// ---- How large, and which panel beside the page ----

double growth_of_window(ImVec2 size) {
    const double share = std::min(static_cast<double>(size.x) / 1366.0, static_cast<double>(size.y) / 768.0);
    return std::max(1.0, std::cbrt(share));
}

float App::font_height() const {
    const double scale = options_.scale.value_or(settings_.scale);
    const double used = scale == 0.0 ? scale_of_screen(screen_height_) : scale;
    const double wanted = base_height_px * std::clamp(used, smallest_scale, largest_scale) * growth_of_window(size_);
    // A window must hold 42 letters' heights across and 29 down, or the panels would cut each other off.
    return std::floor(std::min({static_cast<float>(std::round(wanted)), size_.x / 42.0F, size_.y / 29.0F}));
}

bool App::load_fonts(std::string& why_not) {
    fonts_stale_ = false;
    return load_theme(theme_, dark() ? ThemeChoice::night : ThemeChoice::day, font_height(), why_not);
}

LeftPanel App::left(ImVec2 size) const {
    if (page_ == Page::exercise) {
        const LeftPanel usual = session_ && session_->lesson ? LeftPanel::lesson : LeftPanel::sheet;
        // The steps of a lesson are kept in a narrow window too, as long as the plan has as much room as the receiver.
        const bool folds =
            usual == LeftPanel::lesson ? size.x < least_lesson_window_h * theme_.h : is_narrow(theme_, size);
        return left_choice_.value_or(folds ? LeftPanel::folded : usual);
    }
    const LeftPanel choice = left_choice_.value_or(LeftPanel::folded);
    const bool of_exercise =
        choice == LeftPanel::sheet || choice == LeftPanel::worksheet || choice == LeftPanel::lesson;
    return of_exercise ? LeftPanel::folded : choice;
}

// ---- Drawing ----

Settings App::shown_settings() const {
    Settings shown = settings_;
    shown.night = dark();
    shown.muted = muted();
    shown.units = units();
    return shown;
}

void App::draw(ImVec2 size) {
    ImGui::SetNextWindowPos(ImVec2(0, 0));
    ImGui::SetNextWindowSize(size);
    ImGui::PushStyleVar(ImGuiStyleVar_WindowPadding, ImVec2(0, 0));
    ImGui::Begin("sondeyard", nullptr,
                 ImGuiWindowFlags_NoDecoration | ImGuiWindowFlags_NoBackground | ImGuiWindowFlags_NoMove |
                     ImGuiWindowFlags_NoSavedSettings | ImGuiWindowFlags_NoBringToFrontOnFocus |
                     ImGuiWindowFlags_NoScrollWithMouse);
    ImGui::PopStyleVar();
    switch (page_) {
    case Page::start:
        draw_start(size);
        break;
    case Page::exercise:
        draw_exercise(size);
        break;
    case Page::debrief:
        draw_debrief(size);
        break;
    case Page::people:
        draw_people(size);
        break;
    case Page::progress:
        draw_progress(size);
        break;
    case Page::lesson_result:
        draw_lesson_result(size);
        break;
    }
    ImGui::End();
}

// The NEXT line: while a number has the keyboard what that does, and for a while what the check at the truck showed
// before what is due.
std::string App::said_before(const std::string& due) const {
    const Session& s = *session_;
    if (s.ui.form.open && s.ui.form.active != FormNumber::none) {
        return typing_words(s.ui.form);
    }
    const auto& checks = s.state.truck_checks;
    if (!checks.empty() && s.state.tick - checks.back().tick < check_shown_ticks) {
        return fmt::format("{} {}", truck_words(theme_, s.setting.brief, checks.back()), due);
    }
    return due;
}

void App::draw_exercise(ImVec2 size) {
    Session& s = *session_;
    const CommandContext c = context();
    const LeftPanel panel = left(size);
    const Layout layout = lay_out(theme_, size, panel, c);
    const std::vector<std::string> missing =
        !s.finish_asked              ? std::vector<std::string>()
        : s.lesson && s.lesson->test ? field::missing(s.lesson->lesson().test, s.state.notebook, s.lesson->test_work)
        : s.lesson                   ? std::vector<std::string>{"steps are not done, and the test comes after them"}
                                     : missing_items(s.state.notebook, s.state.ticket_read_tick.has_value());
    const std::string trouble = s.log_trouble.empty() ? std::string() : s.log_trouble + " The exercise goes on.";
    const LessonNext due = s.lesson ? next_of(*s.lesson, units()) : LessonNext{s.hint.sentence, s.hint.command};
    const std::string place = s.lesson              ? place_of(*s.lesson, lesson_rows_.size())
                              : s.course_index >= 0 ? fmt::format("{} of {}", s.course_index + 1, rows_.size())
                                                    : std::string();
    const std::string said = said_before(due.sentence);
    const bool typing = s.ui.form.open && s.ui.form.active != FormNumber::none;
    const Settings shown = shown_settings();
    const ExerciseModel model{.brief = s.setting.brief,
                              .notebook = s.state.notebook,
                              .seen = s.seen,
                              .trail = s.state.trail,
                              .truck_checks = s.state.truck_checks,
                              .ticket_read = s.state.ticket_read_tick.has_value(),
                              .history = s.history,
                              .context = c,
                              .settings = shown,
                              .lesson = s.lesson.get(),
                              .course_place = place,
                              .next_sentence = said,
                              .next_command = typing ? std::string_view() : due.command,
                              .next_strength = s.lesson || typing ? 1.0F : next_strength(settings_),
                              .note = s.note.empty() ? trouble : s.note,
                              .missing = missing,
                              .selected_mark = s.ui.selected_mark,
                              .cable_step_m = s.ui.cable_step_m,
                              .hand_held_still = s.hand.held_still,
                              .low = is_low(theme_, size),
                              .waiting = !s.started};
    s.ui.scroll = scroll_;
    refresh(s.ui.worksheet, s.setting.brief, s.state.notebook);
    exercise_page(theme_, layout, panel, model, s.ui, sound_status_, requests_);
}

void App::draw_left_plain(const Area& area, LeftPanel which) {
    if (which == LeftPanel::folded) {
        return;
    }
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const ImVec2 end(area.origin.x + area.size.x, area.origin.y + area.size.y);
    list.AddRectFilled(area.origin, end, theme_.palette.panel);
    list.AddLine(ImVec2(end.x, area.origin.y), end, theme_.palette.quiet);
    if (which == LeftPanel::help) {
        help_sheet(theme_, area, context(), scroll_, requests_);
    } else {
        settings_sheet(theme_, area, shown_settings(), context(), sound_status_, scroll_, requests_);
    }
}

Layout App::lay_out_page(ImVec2 size, std::string_view title, std::string_view beside,
                         std::span<const std::string_view> buttons, std::size_t narrow, std::int64_t tick) {
    const LeftPanel panel = left(size);
    const Layout layout = lay_out_plain(theme_, size, panel);
    draw_left_plain(layout.left, panel);
    header_bar(theme_, layout.header, title, beside, tick, buttons.subspan(0, layout.narrow ? narrow : buttons.size()),
               context(), requests_);
    ImGui::GetWindowDrawList()->AddLine(layout.plan.origin, ImVec2(size.x, layout.plan.origin.y), theme_.palette.quiet);
    return layout;
}

void App::draw_debrief(ImVec2 size) {
    static constexpr std::array<std::string_view, 4> buttons = {"help", "settings", "night", "start_page"};
    Session& s = *session_;
    const Layout layout = lay_out_page(size, s.lesson ? s.lesson->lesson().title : s.setting.brief.sheet.title,
                                       "debrief", buttons, 2, s.state.tick);
    ImGui::PushStyleVar(ImGuiStyleVar_WindowPadding, ImVec2(0, 0));
    {
        const float margin = std::round(0.75F * theme_.h); // as the header's
        const Area inside{ImVec2(layout.plan.origin.x + margin, layout.plan.origin.y + margin / 2),
                          ImVec2(layout.plan.size.x - 2 * margin, layout.plan.size.y - margin)};
        const Panel child("debrief", inside);
        ImGui::PopStyleVar();
        const CommandContext c = context();
        const Settings shown = shown_settings();
        debrief_page({.theme = theme_,
                      .context = c,
                      .state = s.debrief_ui,
                      .setting = s.setting,
                      .exercise = s.state,
                      .score = *s.score,
                      .debrief = *s.debrief,
                      .settings = shown,
                      .requests = requests_,
                      .asked = s.asked,
                      .test_passed = s.asked == field::ScoreParts{} ? std::nullopt
                                     : s.lesson                     ? std::optional(s.lesson->passed)
                                                                    : s.test_passed,
                      .judged = s.lesson && s.lesson->test ? std::span<const field::Requirement>(s.lesson->judgement)
                                                           : std::span<const field::Requirement>{}},
                     inside.size);
    }
}

void App::draw_start(ImVec2 size) {
    static constexpr std::array<std::string_view, 5> buttons = {"people", "progress", "help", "settings", "quit"};
    const bool lessons = start_ui_.list == StartList::lessons;
    const Layout layout = lay_out_page(size, lessons ? "Lessons" : "Exercises",
                                       people_.current() == 0 ? std::string() : people_.name(), buttons, 3);
    if (lessons) {
        lesson_list(theme_, layout.plan, lesson_rows_, units(), context(), message_, start_ui_, requests_);
    } else {
        start_page(theme_, layout.plan, rows_, results_, context(), message_, start_ui_, requests_);
    }
}

} // namespace sondeyard::ui
