#include "ui/window/app.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::ui {

namespace {

std::filesystem::path file_in(const std::filesystem::path& folder, std::string_view name) {
    return folder.empty() ? folder : folder / name; // without a folder it would lie wherever the program was started
}

std::vector<CourseRow> course_rows() {
    std::vector<CourseRow> rows;
    for (const std::string& name : scenarios::bundled_names()) {
        const scenarios::Scenario scenario = scenarios::bundled(name);
        rows.push_back({.name = name,
                        .title = scenario.title(),
                        .story = scenario.story(),
                        .news = scenario.news(),
                        .brief = std::nullopt,
                        .trouble = {}});
    }
    return rows;
}

} // namespace

App::App(AppOptions options) : options_(std::move(options)), people_(options_.data) {
    LoadedSettings loaded = load_settings(file_in(options_.config, "settings.toml"));
    settings_ = loaded.settings;
    saved_ = loaded.settings;
    message_ = loaded.trouble;
    if (options_.config.empty() || options_.data.empty()) {
        message_ = fmt::format("Settings and results are kept only while this window is open: {}.", no_home);
    }
    if (!people_.trouble().empty()) {
        message_ = people_.trouble();
    }
    rows_ = course_rows();
    lesson_rows_ = lesson_rows();
    take_up_results();
    const bool lessons_left = std::ranges::find(lesson_rows_, 0, &LessonRow::passes) != lesson_rows_.end();
    show_list(lessons_left ? StartList::lessons : StartList::exercises);
    if (options_.log) {
        check_log_can_be_made(*options_.log);
    }
    if (options_.replay) {
        open_log(*options_.replay);
    } else if (options_.lesson) {
        const auto row = std::ranges::find(lesson_rows_, *options_.lesson, &LessonRow::name);
        begin_lesson(std::make_shared<const scenarios::LessonFile>(scenarios::find_lesson(*options_.lesson)),
                     row == lesson_rows_.end() ? -1 : static_cast<int>(row - lesson_rows_.begin()));
    } else if (options_.scenario) {
        const scenarios::Scenario scenario = scenarios::find_scenario(*options_.scenario);
        const auto row = std::ranges::find(rows_, *options_.scenario, &CourseRow::name);
        const int index = row == rows_.end() ? -1 : static_cast<int>(row - rows_.begin());
        begin(scenario, options_.seed.value_or(next_seed(result_name(scenario, index))), index);
    } else {
        start_ui_.newcomer = !loaded.existed && results_.empty();
    }
}

App::~App() {
    quit_ = true;
    save_settings_if_changed();
}

// ---- Beginning and ending an exercise ----

std::string App::result_name() const {
    if (session_->lesson) {
        return lesson_result_name(session_->lesson->lesson().name);
    }
    return result_name(session_->scenario, session_->course_index);
}

std::string App::result_name(const scenarios::Scenario& scenario, int course_index) const {
    return course_index >= 0 ? rows_[static_cast<std::size_t>(course_index)].name : "file:" + scenario.name();
}

// A yard not worked yet: one more than the largest seed among the results. The exercises of the course begin with
// different seeds, so that they do not all lie in the same yard.
std::uint64_t App::next_seed(std::string_view exercise) const {
    const auto row = std::ranges::find(rows_, exercise, &CourseRow::name);
    auto seed = static_cast<std::uint64_t>(row == rows_.end() ? 1 : row - rows_.begin() + 1);
    for (const Result& r : results_) {
        if (r.exercise == exercise) {
            seed = std::max(seed, r.seed + 1);
        }
    }
    return seed;
}

void App::begin(const scenarios::Scenario& scenario, std::uint64_t seed, int course_index) {
    auto session = std::make_unique<Session>(scenario, seed, scenarios::resolve(scenario, seed));
    session->course_index = course_index;
    session_ = std::move(session);
    start_ui_.newcomer = false;
    take_up_units();
    page_ = Page::exercise;
    message_.clear();
    left_choice_.reset();
}

void App::try_to_begin(const scenarios::Scenario& scenario, std::uint64_t seed, int course_index) {
    try {
        begin(scenario, seed, course_index);
    } catch (const std::exception& e) {
        message_ = fmt::format("{} with seed {}: {}", scenario.title(), seed, e.what());
        page_ = Page::start;
    }
}

void App::begin_row(int index, std::uint64_t seed) {
    if (index >= 0 && index < static_cast<int>(rows_.size())) {
        start_ui_.selected = index;
        try_to_begin(scenarios::bundled(rows_[static_cast<std::size_t>(index)].name), seed, index);
    }
}

void App::finish_exercise() {
    Session& s = *session_;
    end_log(s);
    s.score = field::score(s.setting, s.state, s.units);
    s.debrief = field::debrief(s.setting, s.state, *s.score, s.units);
    s.debrief_ui = DebriefState{};
    if (s.lesson) {
        finish_lesson_part();
        return;
    }
    Result result = field::attempt_of(*s.score, s.state);
    result.exercise = result_name();
    result.seed = s.seed;
    result.date = local_time_text("%Y-%m-%d %H:%M");
    result.log = s.log ? s.log_path.filename().string() : std::string();
    s.debrief_ui.message = keep_result(result);
    if (!s.log_trouble.empty()) {
        s.debrief_ui.message += (s.debrief_ui.message.empty() ? "" : " ") + s.log_trouble;
    }
    ++settings_.exercises_done;
    save_settings_if_changed();
    show_list(StartList::exercises);
    page_ = Page::debrief;
    left_choice_.reset();
    trace_.push_back(fmt::format("score {} {}", s.score->points, s.score->passed ? "passed" : "not passed"));
}

// ---- Commands ----

CommandContext App::context() const {
    CommandContext c = session_ ? context_of(*session_) : CommandContext{};
    c.page = page_;
    c.lists_lessons = start_ui_.list == StartList::lessons;
    c.delete_asked = page_ == Page::progress && progress_ui_.delete_asked;
    c.has_person = people_.current() != 0;
    if (session_) {
        c.has_next_lesson = session_->lesson && session_->lesson->index >= 0 &&
                            session_->lesson->index + 1 < static_cast<int>(lesson_rows_.size());
        c.has_next = session_->course_index >= 0 && session_->course_index + 1 < static_cast<int>(rows_.size());
    }
    return c;
}

bool App::execute(std::string_view id) {
    if (!enabled(id, context())) {
        return false;
    }
    if (id == "read_ticket" || id == "truck_check") {
        left_choice_ = LeftPanel::sheet; // where the ticket and what the check showed can be read
        session_->ui.sheet_part = id == "read_ticket" ? SheetPart::ticket : SheetPart::truck;
    }
    return (session_ && carry_out(*session_, id)) || carry_out_here(id); // neither: held, and looked at elsewhere
}

// ---- One frame ----

void App::take_requests() {
    const Requests asked = std::exchange(requests_, {});
    for (const std::string_view id : asked.commands) {
        execute(id);
    }
    if (page_ == Page::exercise && session_) {
        for (const field::Command& command : asked.work) {
            ask(*session_, command);
        }
    }
    if (start_ui_.begin >= 0 && page_ == Page::start) {
        const int row = std::exchange(start_ui_.begin, -1);
        if (start_ui_.list == StartList::lessons) {
            begin_lesson_row(row);
        } else {
            begin_row(row, next_seed(rows_[static_cast<std::size_t>(row)].name));
        }
    }
    start_ui_.begin = -1;
    if (page_ == Page::people) {
        take_people_requests();
    } else if (page_ == Page::progress) {
        take_progress_requests();
    }
}

// The view and the hand see a frame's keys and pointer before the keys change the page under them.
void App::move_hand_and_view(const Input& input, double frame_s) {
    Session& s = *session_;
    const CommandContext c = context();
    const Layout layout = lay_out(theme_, size_, left(size_), c);
    move_view(s.ui, layout.plan, s.setting.brief, s.seen, input, c, static_cast<float>(std::min(frame_s, 0.1)));
    const bool hand_free = !s.finish_asked && !s.leave_asked && !c.paused;
    follow_pointer(s.hand, input, s.ui.view, s.ui.over_plan && hand_free);
    if (input.left_clicked && s.ui.over_plan && hand_free) {
        const int mark = mark_at(s.ui.view, s.state.notebook, input.pointer, 0.6F * theme_.h);
        if (mark != 0 && mark != s.ui.selected_mark && !c.tip_down) {
            s.ui.selected_mark = mark;
        } else {
            execute("hold_hand");
        }
    }
    s.started |= s.ui.over_plan && input.pointer_moved && hand_free;
}

void App::pan_debrief(const Input& input, double frame_s) {
    const CommandContext c = context();
    PlanView& view = shown_plan(session_->debrief_ui);
    const auto way = [&](std::string_view plus, std::string_view minus) {
        return (held(plus, input, c) ? 1.0 : 0.0) - (held(minus, input, c) ? 1.0 : 0.0);
    };
    const double step_m = 0.8 * static_cast<double>(view.size.x) * std::min(frame_s, 0.1) / view.px_per_m;
    const glm::dvec2 pan(way("pan_east", "pan_west"), way("pan_north", "pan_south"));
    view.centre_m += step_m * pan;
    session_->debrief_ui.replay.follow &= pan == glm::dvec2(0.0);
    if (DebriefState& ui = session_->debrief_ui; ui.map) {
        ui.map->take_in();
        if (ui.message.empty() && !ui.map->trouble().empty()) {
            ui.message = fmt::format("There is no signal map: {}.", ui.map->trouble());
        }
    }
}

void App::update(const Input& input, double frame_s, ImVec2 size) {
    size_ = size;
    take_requests();
    fonts_stale_ |= font_height() != theme_.h;
    if (page_ == Page::exercise && session_) {
        move_hand_and_view(input, frame_s);
        if (session_->ui.map) {
            session_->ui.map->take_in();
        }
    } else if (page_ == Page::debrief) {
        pan_debrief(input, frame_s);
    }
    for (const Chord& chord : input.pressed) {
        if (page_ == Page::exercise && session_ && is_for_number(session_->ui.form, chord)) {
            continue;
        }
        if (const CommandInfo* info = command_of(chord, context())) {
            execute(info->id);
        }
    }
    const CommandContext now = context();
    scroll_ = (held("scroll_down", input, now) ? 1.0F : 0.0F) - (held("scroll_up", input, now) ? 1.0F : 0.0F);
    scroll_ *= static_cast<float>(std::min(frame_s, 0.1)) * 30.0F * theme_.h;
    if (page_ == Page::exercise && session_) {
        step_exercise(input, frame_s);
        bring_keyboard(session_->ui.form, session_->queue.empty());
        go_on_with_lesson();
    } else if (page_ == Page::debrief && session_) {
        update_replay(input, frame_s);
    } else if (page_ == Page::start) {
        make_one_thumbnail();
    }
    save_settings_if_changed();
    quit_ |= input.quit;
    note_trace(size);
}

void App::step_exercise(const Input& input, double frame_s) {
    Session& s = *session_;
    const CommandContext c = context();
    static constexpr std::array<std::string_view, 11> moves = {"hand_north", "hand_south", "hand_west", "hand_east",
                                                               "turn_left",  "turn_right", "lean_away", "lean_back",
                                                               "lean_left",  "lean_right", "plumb_mast"};
    s.started |= !s.queue.empty() || s.hand.height_m != carried_height_m ||
                 std::ranges::any_of(moves, [&](std::string_view id) { return held(id, input, c); });
    if (!s.started || hidden_) {
        return;
    }
    if (!s.log && s.log_trouble.empty() && !(s.lesson && !s.lesson->test)) { // guided work is no evidence of anything
        begin_log(s, std::exchange(options_.log, std::nullopt), options_.data); // the next one gets a name of its own
    }
    const int ticks = s.clock.advance(frame_s);
    for (int i = 0; i < ticks && !s.seen.finished; ++i) {
        const auto& readings = s.state.notebook.readings;
        const std::size_t before = readings.size();
        step_once(s, input, c);
        if (readings.size() > before) {
            trace_.push_back(readings.back().depth_m ? fmt::format("reading {:.2f}", *readings.back().depth_m)
                                                     : "reading none");
        }
    }
    watch_log(s);
    if (s.seen.finished) {
        finish_exercise();
    }
}

void App::make_one_thumbnail() {
    const auto row = std::ranges::find_if(rows_, [](const CourseRow& r) { return !r.brief && r.trouble.empty(); });
    if (row == rows_.end()) {
        return;
    }
    try {
        row->brief = field::brief_of(scenarios::resolve(scenarios::bundled(row->name), next_seed(row->name)));
    } catch (const std::exception& e) {
        row->trouble = e.what();
    }
}

bool App::work_left() const {
    if (replaying() && !session_->debrief_ui.replay.model->ready()) {
        return true;
    }
    return page_ == Page::start &&
           std::ranges::any_of(rows_, [](const CourseRow& r) { return !r.brief && r.trouble.empty(); });
}

bool App::moving() const {
    if (replaying()) {
        return session_->debrief_ui.replay.playing && !hidden_;
    }
    return page_ == Page::exercise && session_ && session_->started && !session_->clock.paused() && !hidden_;
}

Sound App::sound() const {
    Sound sound;
    sound.volume = settings_.volume;
    sound.muted = muted();
    sound.running = moving();
    if (session_) {
        const field::Observation& heard = replaying() ? session_->debrief_ui.replay.model->seen() : session_->seen;
        sound.signal_dbpt = heard.signal_dbpt;
        sound.hum_dbpt = heard.hum_dbpt;
        sound.mains_hz = session_->setting.brief.mains_hz;
    }
    return sound;
}

void App::set_hidden(bool hidden) {
    if (hidden_ && !hidden && session_ && !session_->clock.paused()) {
        session_->clock.go_on();
    }
    hidden_ = hidden;
}

void App::set_surface(Surface* surface) {
    if (session_) {
        session_->debrief_ui.map.reset(); // its textures are the old one's
        session_->debrief_ui.layer = MapLayer::none;
        session_->ui.map.reset();
        session_->ui.layer = MapLayer::none;
    }
    surface_ = surface;
}

// Not written at every step of a drag: with the next change of a setting, or on leaving.
void App::set_window_size(int width, int height) {
    resized_ |= width != settings_.width || height != settings_.height;
    settings_.width = saved_.width = width;
    settings_.height = saved_.height = height;
}

void App::save_settings_if_changed() {
    if (settings_ == saved_ && !(resized_ && quit_)) {
        return;
    }
    if (!options_.config.empty()) { // else said at the start
        if (std::string trouble = save_settings(file_in(options_.config, "settings.toml"), settings_);
            !trouble.empty()) {
            message_ = std::move(trouble);
        }
    }
    saved_ = settings_; // also after a failure: once said is enough
}

std::optional<std::filesystem::path> App::take_picture_wish() { return std::exchange(picture_wish_, std::nullopt); }

void App::picture_done(const std::filesystem::path& path, bool written, const std::string& why_not) {
    if (session_) {
        session_->debrief_ui.message = written ? fmt::format("Picture: {}", path.string()) : why_not;
    }
    trace_.push_back(written ? fmt::format("picture {}", path.string()) : "picture failed");
}

} // namespace sondeyard::ui
