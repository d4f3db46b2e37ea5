// What the commands of the window do: those that change more than the exercise being worked.
#include "ui/window/app.hpp"
#include "ui/window/picture.hpp"

#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::ui {

namespace {

constexpr std::array<double, 10> scales = {0.75, 0.85, 1.0, 1.15, 1.3, 1.5, 1.75, 2.0, 2.5, 3.0};

} // namespace

// From what is seen, not from what is set: in a small window the writing may be smaller than was asked for.
void App::change_scale(int steps) {
    const double now = static_cast<double>(font_height() / base_height_px) / growth_of_window(size_);
    const auto* const nearest = std::ranges::min_element(scales, {}, [&](double s) { return std::abs(s - now); });
    const auto index = std::clamp<std::ptrdiff_t>(nearest - scales.begin() + steps, 0, std::ssize(scales) - 1);
    settings_.scale = scales[static_cast<std::size_t>(index)];
    options_.scale.reset();
    fonts_stale_ = true;
}

void App::ask_to_leave() {
    if (page_ == Page::exercise && session_->started) {
        session_->leave_asked = true;
    } else {
        leave();
    }
}

void App::leave() {
    const bool lesson = session_ && session_->lesson;
    if (page_ == Page::debrief && lesson) { // the result of the lesson lies between
        page_ = Page::lesson_result;
        left_choice_.reset();
        return;
    }
    page_ = Page::start;
    left_choice_.reset();
    show_list(!session_ ? start_ui_.list : lesson ? StartList::lessons : StartList::exercises);
    session_.reset(); // the log is flushed line by line; without an end line it says that it is unfinished
}

void App::toggle_left(LeftPanel which) {
    if (left(size_) != which) {
        left_choice_ = which;
    } else if (which == LeftPanel::lesson || (which == LeftPanel::sheet && !session_->lesson)) {
        left_choice_ = LeftPanel::folded;
    } else {
        left_choice_.reset();
    }
}

void App::change_volume(double by) {
    settings_.volume = std::clamp(std::round((settings_.volume + by) * 10.0) / 10.0, 0.0, 1.0);
}

void App::again(std::uint64_t seed) {
    if (session_->lesson) {
        begin_test(seed);
        return;
    }
    const scenarios::Scenario scenario = session_->scenario; // beginning replaces the session
    try_to_begin(scenario, seed, session_->course_index);
}

void App::next_exercise() {
    const int next = session_->course_index + 1;
    begin_row(next, next_seed(rows_[static_cast<std::size_t>(next)].name));
}

void App::wish_picture() {
    if (options_.data.empty()) {
        session_->debrief_ui.message = "No picture is written: " + std::string(no_home) + ".";
        return;
    }
    picture_wish_ = free_picture_path(options_.data / "pictures", file_stem_of(session_->setting.brief.sheet.title));
}

// What is worked stays as it is: only sentences and figures change.
void App::take_up_units() {
    theme_.units = units();
    if (!session_) {
        return;
    }
    Session& s = *session_;
    const bool changed = s.units != units();
    s.units = units();
    s.hint = field::next_hint(s.setting.brief, s.state, s.seen, s.units);
    s.note = field::in_units(s.seen.note, s.units);
    if (changed) {
        s.ui.cable_step_m = s.units == field::Units::feet ? 3.0 * field::metres_per_foot : 1.0;
    }
    if (s.score) {
        s.score = field::score(s.setting, s.state, s.units);
        s.debrief = field::debrief(s.setting, s.state, *s.score, s.units);
    }
}

void App::toggle_map() {
    DebriefState& ui = session_->debrief_ui;
    ui.layer = after(ui.layer);
    // It is part of the truth.
    ui.replay.truth |= ui.layer != MapLayer::none && ui.shown == DebriefView::replay;
    if (!ui.map) { // kept from then on: the truth does not change
        const field::SondeTruth& sonde = session_->score->located.sonde;
        ui.map = std::make_unique<MapPicture>(field_map_task(session_->setting, sonde), surface_);
    }
    ui.map->show(ui.layer);
}

void App::allow_field(bool allowed) {
    if (session_) {
        session_->ui.field_allowed = allowed;
        session_->ui.layer = MapLayer::none;
    }
}

// The sonde as it lies now: the cable may have been moved since the map was last shown.
void App::toggle_lesson_map() {
    ExerciseUi& ui = session_->ui;
    ui.layer = after(ui.layer);
    const field::SondeTruth sonde = field::sonde_now(session_->setting, session_->state);
    if (ui.layer == MapLayer::signal && (!ui.map || glm::distance(ui.map_sonde_m, sonde.position_m) > 0.01)) {
        ui.map.reset();
        ui.map = std::make_unique<MapPicture>(field_map_task(session_->setting, sonde), surface_);
        ui.map_sonde_m = sonde.position_m;
        const field::World& world = session_->setting.world;
        ui.points = field::true_points(world, *session_->state.scene, sonde);
    }
    ui.map->show(ui.layer);
}

bool App::carry_out_here(std::string_view id) {
    struct Entry {
        std::string_view id;
        void (*run)(App&);
    };
    static constexpr auto entries = std::to_array<Entry>({
        {"help", [](App& a) { a.toggle_left(LeftPanel::help); }},
        {"sheet", [](App& a) { a.toggle_left(LeftPanel::sheet); }},
        {"steps", [](App& a) { a.toggle_left(LeftPanel::lesson); }},
        {"next_lesson", [](App& a) { a.next_lesson(); }},
        {"lesson_test", [](App& a) { a.begin_test(a.next_test_seed()); }},
        {"lesson_again", [](App& a) { a.begin_lesson(a.session_->lesson->file, a.session_->lesson->index); }},
        {"lesson_debrief", [](App& a) { a.page_ = Page::debrief; }},
        {"show_lessons", [](App& a) { a.change_list(StartList::lessons); }},
        {"show_exercises", [](App& a) { a.change_list(StartList::exercises); }},
        {"settings", [](App& a) { a.toggle_left(LeftPanel::settings); }},
        {"worksheet", [](App& a) { a.toggle_left(LeftPanel::worksheet); }},
        {"worksheet_numbers",
         [](App& a) {
             a.left_choice_ = LeftPanel::worksheet;
             a.session_->ui.worksheet.focus_first = true;
         }},
        {"night",
         [](App& a) {
             a.settings_.night = !a.dark();
             a.options_.night.reset();
             set_palette(a.theme_, a.settings_.night ? ThemeChoice::night : ThemeChoice::day);
         }},
        {"units",
         [](App& a) {
             a.settings_.units = a.units() == field::Units::feet ? field::Units::metric : field::Units::feet;
             a.options_.units.reset();
             a.take_up_units();
             if (a.page_ == Page::progress) {
                 a.work_out_progress();
             }
         }},
        {"next_line",
         [](App& a) {
             a.settings_.next_line = static_cast<NextLine>((static_cast<int>(a.settings_.next_line) + 1) % 3);
         }},
        {"volume_up", [](App& a) { a.change_volume(0.1); }},
        {"volume_down", [](App& a) { a.change_volume(-0.1); }},
        {"mute",
         [](App& a) {
             a.settings_.muted = !a.muted();
             a.options_.mute = false;
         }},
        {"scale_up", [](App& a) { a.change_scale(1); }},
        {"scale_down", [](App& a) { a.change_scale(-1); }},
        {"confirm_leave", [](App& a) { a.leave(); }},
        {"start_page", [](App& a) { a.ask_to_leave(); }},
        {"again_same", [](App& a) { a.again(a.session_->seed); }},
        {"again_new", [](App& a) { a.again(std::max(a.session_->seed + 1, a.next_seed(a.result_name()))); }},
        {"next_exercise", [](App& a) { a.next_exercise(); }},
        {"save_picture", [](App& a) { a.wish_picture(); }},
        {"signal_map", [](App& a) { a.toggle_map(); }},
        {"lesson_map", [](App& a) { a.toggle_lesson_map(); }},
        {"field_lines",
         [](App& a) {
             bool& shown = a.session_->debrief_ui.lines_shown;
             shown = !shown;
         }},
        {"row_up", [](App& a) { a.choose_row(-1); }},
        {"row_down", [](App& a) { a.choose_row(1); }},
        {"open_row", [](App& a) { a.open_row(); }},
        {"people", [](App& a) { a.show_people(); }},
        {"add_person", [](App& a) { a.add_person(); }},
        {"progress", [](App& a) { a.show_progress(); }},
        {"practise", [](App& a) { a.progress_ui_.begin = 0; }},
        {"export_csv", [](App& a) { a.export_csv(); }},
        {"delete_person", [](App& a) { a.progress_ui_.delete_asked = true; }},
        {"delete_logs", [](App& a) { a.progress_ui_.logs_too = !a.progress_ui_.logs_too; }},
        {"confirm_delete", [](App& a) { a.confirm_delete(); }},
        {"go_back", [](App& a) { a.progress_ui_.delete_asked = false; }},
        {"quit", [](App& a) { a.quit_ = true; }},
    });
    const auto* const entry = std::ranges::find(entries, id, &Entry::id);
    if (entry == entries.end()) {
        return false;
    }
    entry->run(*this);
    return true;
}

} // namespace sondeyard::ui
