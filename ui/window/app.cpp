#include "ui/window/app.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>

namespace sondeyard::ui {

namespace {

// Writing that can be read at an arm's length on a display of this many lines.
double scale_of_screen(int screen_height) {
    return screen_height < 1000 ? 1.0 : screen_height < 1300 ? 1.15 : screen_height < 1700 ? 1.5 : 2.0;
}

constexpr float least_lesson_window_h = 52.0F; // in text heights

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

App::App(AppOptions options) : options_(std::move(options)), people_(options_.data) {
    LoadedSettings loaded = load_settings(file_in(options_.config, "settings.toml"));
    settings_ = loaded.settings;
    saved_ = loaded.settings;
    message_ = loaded.trouble;
    if (options_.config.empty() || options_.data.empty()) {
        message_ = fmt::format("Settings and results are kept only while this window is open: {}.", no_home);
    }
    results_ = people_.attempts();
    if (!people_.trouble().empty()) {
        message_ = people_.trouble();
    }
    take_up_units();
    rows_ = course_rows();
    lesson_rows_ = lesson_rows();
    take_results(lesson_rows_, results_);
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
        const std::string name = row == rows_.end() ? "file:" + scenario.name() : row->name;
        begin(scenario, options_.seed.value_or(next_seed(name)),
              row == rows_.end() ? -1 : static_cast<int>(row - rows_.begin()));
    } else if (!loaded.existed && results_.empty() && !rows_.empty()) {
        begin_row(0, options_.seed.value_or(1)); // the very first start is the first exercise
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
    const int index = session_->course_index;
    return index >= 0 ? rows_[static_cast<std::size_t>(index)].name : "file:" + session_->scenario.name();
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
    }
    return (session_ && carry_out(*session_, id)) || carry_out_here(id); // neither: held, and looked at elsewhere
}

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
        if (const CommandInfo* info = command_of(chord, context())) {
            execute(info->id);
        }
    }
    const CommandContext now = context();
    scroll_ = (held("scroll_down", input, now) ? 1.0F : 0.0F) - (held("scroll_up", input, now) ? 1.0F : 0.0F);
    scroll_ *= static_cast<float>(std::min(frame_s, 0.1)) * 30.0F * theme_.h;
    if (page_ == Page::exercise && session_) {
        step_exercise(input, frame_s);
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

// Lines for tests that work the window from outside (--trace), each printed when it changes, the tip's at most five
// times a second:
//   page start|exercise|debrief|lesson_result|people|progress
//   view CENTRE_EAST CENTRE_NORTH PX_PER_M LEFT TOP WIDTH HEIGHT   (metres, pixels)
//   sheet marks A B spacing M depth M rise M sure M M tilt DEG LOW HIGH from_a M calls N TRUST | sheet marks A B no fix
//   boxes X Y ... | texts TEXT|...   (where the worksheet's numbers are, in pixels, and what stands in them)
//   lesson NAME guided|test step DONE seed SEED      (while one is taken)
//   debrief result|coach|known|replay
//   coach question N | coach answer N right|wrong | coach list COUNT chosen N
//   replay TICK of LAST still|playing SPEEDx truth shown|hidden trail plain|signal|speed preparing|ready
//   graph LEFT TOP RIGHT BOTTOM   (of the replay, pixels)
//   map off|CELLS   (in the debrief: on the longer side, of the finest pass that is whole)
//   marks=N  readings=N  dig=0|1         question none|finish|leave      size WIDTH HEIGHT
//   tip EAST NORTH HEIGHT facing DEG lean DEG signal DBPT dip DEG|none
// and, when they happen: "reading DEPTH|none", "score POINTS passed|not passed", "picture FILE|failed".
void App::note_trace(ImVec2 size) {
    std::vector<std::string> now = {fmt::format("page {}", name_of(page_))};
    if (page_ == Page::exercise && session_) {
        const Session& s = *session_;
        const PlanView& v = s.ui.view;
        now.push_back(fmt::format("view {:.3f} {:.3f} {:.2f} {:.0f} {:.0f} {:.0f} {:.0f}", v.centre_m.x, v.centre_m.y,
                                  v.px_per_m, v.origin.x, v.origin.y, v.size.x, v.size.y));
        now.push_back(fmt::format("marks={}", s.state.notebook.marks.size()));
        now.push_back(fmt::format("readings={}", s.state.notebook.readings.size()));
        now.push_back(fmt::format("dig={}", s.state.notebook.dig ? 1 : 0));
        now.push_back(fmt::format("question {}", s.finish_asked ? "finish" : s.leave_asked ? "leave" : "none"));
        now.push_back(fmt::format("tip {:.2f} {:.2f} {:.2f} facing {:.0f} lean {:.1f} signal {:.1f} dip {}",
                                  s.seen.tip_m.x, s.seen.tip_m.y, s.seen.tip_height_m, s.seen.facing_deg,
                                  s.seen.lean_deg, s.seen.signal_dbpt,
                                  s.seen.has_axis ? fmt::format("{:.0f}", s.seen.dip_deg) : "none"));
    }
    if (page_ == Page::exercise && session_ && left(size) == LeftPanel::worksheet) {
        std::ranges::copy(trace_lines(session_->ui.worksheet), std::back_inserter(now));
    }
    if (session_ && session_->lesson) {
        const LessonRun& run = *session_->lesson;
        now.push_back(fmt::format("lesson {} {} step {} seed {}", run.lesson().name, run.test ? "test" : "guided",
                                  run.work.step, run.seed));
    }
    if (page_ == Page::debrief && session_) {
        const DebriefState& ui = session_->debrief_ui;
        now.push_back(fmt::format("debrief {}", name_of(ui.shown)));
        if (replaying()) {
            const ReplayUi& replay = ui.replay;
            now.push_back(fmt::format("replay {} of {} {} {:g}x truth {} trail {} {}", replay.model->tick(),
                                      replay.model->last_tick(), replay.playing ? "playing" : "still",
                                      replay_speeds[replay.speed], replay.truth ? "shown" : "hidden",
                                      name_of(replay.colour), replay.model->ready() ? "ready" : "preparing"));
            now.push_back(fmt::format("graph {:.0f} {:.0f} {:.0f} {:.0f}", replay.graph_low.x, replay.graph_low.y,
                                      replay.graph_high.x, replay.graph_high.y));
        }
        if (ui.shown == DebriefView::coach) {
            const CoachState& coach = ui.coach;
            now.push_back(coach.open() ? fmt::format("coach question {}", coach.at + 1)
                          : coach.asks()
                              ? fmt::format("coach answer {} {}", coach.at + 1,
                                            coach.answers[coach.at] == coach.findings[coach.at].question.right
                                                ? "right"
                                                : "wrong")
                              : fmt::format("coach list {} chosen {}", coach.findings.size(), coach.chosen + 1));
        }
        now.push_back(ui.map && ui.layer != MapLayer::none
                          ? fmt::format("map {} {}", name_of(ui.layer), ui.map->finished())
                          : "map off");
    }
    now.push_back(fmt::format("size {:.0f} {:.0f}", size.x, size.y));
    for (const std::string& line : now) {
        const std::string_view kind(line.data(), line.find_first_of(" ="));
        const auto before = std::ranges::find_if(traced_, [&](const std::string& t) { return t.starts_with(kind); });
        if (before == traced_.end()) {
            traced_.push_back(line);
            trace_.push_back(line);
        } else if (*before != line && (kind != "tip" || session_->state.tick % 12 < 3)) {
            *before = line;
            trace_.push_back(line);
        }
    }
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

void App::draw_exercise(ImVec2 size) {
    Session& s = *session_;
    const CommandContext c = context();
    const LeftPanel panel = left(size);
    const Layout layout = lay_out(theme_, size, panel, c);
    const std::vector<std::string> missing =
        !s.finish_asked              ? std::vector<std::string>()
        : s.lesson && s.lesson->test ? field::missing(s.lesson->lesson().test, s.state.notebook)
                                     : missing_items(s.state.notebook, s.state.ticket_read_tick.has_value());
    const std::string trouble = s.log_trouble.empty() ? std::string() : s.log_trouble + " The exercise goes on.";
    const LessonNext due = s.lesson ? next_of(*s.lesson, units()) : LessonNext{s.hint.sentence, s.hint.command};
    const std::string place = s.lesson              ? place_of(*s.lesson, lesson_rows_.size())
                              : s.course_index >= 0 ? fmt::format("{} of {}", s.course_index + 1, rows_.size())
                                                    : std::string();
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
                              .units = units(),
                              .course_place = place,
                              .next_sentence = due.sentence,
                              .next_command = due.command,
                              .next_strength = s.lesson ? 1.0F : next_strength(settings_),
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

void App::draw_debrief(ImVec2 size) {
    static constexpr std::array<std::string_view, 4> buttons = {"help", "settings", "night", "start_page"};
    Session& s = *session_;
    const LeftPanel panel = left(size);
    const Layout layout = lay_out_plain(theme_, size, panel);
    draw_left_plain(layout.left, panel);
    header_bar(theme_, layout.header, s.setting.brief.sheet.title, "debrief", s.state.tick,
               std::span(buttons).subspan(0, layout.narrow ? 2 : buttons.size()), context(), requests_);
    ImGui::GetWindowDrawList()->AddLine(layout.plan.origin, ImVec2(size.x, layout.plan.origin.y), theme_.palette.quiet);
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
                      .record = s.record,
                      .exercise = s.state,
                      .score = *s.score,
                      .debrief = *s.debrief,
                      .settings = shown,
                      .requests = requests_,
                      .units = units()},
                     inside.size);
    }
}

void App::draw_start(ImVec2 size) {
    static constexpr std::array<std::string_view, 5> buttons = {"people", "progress", "help", "settings", "quit"};
    const LeftPanel panel = left(size);
    const Layout layout = lay_out_plain(theme_, size, panel);
    draw_left_plain(layout.left, panel);
    const bool lessons = start_ui_.list == StartList::lessons;
    header_bar(theme_, layout.header, lessons ? "Lessons" : "Exercises",
               people_.current() == 0 ? std::string() : people_.name(), -1,
               std::span(buttons).subspan(0, layout.narrow ? 3 : buttons.size()), context(), requests_);
    ImGui::GetWindowDrawList()->AddLine(layout.plan.origin, ImVec2(size.x, layout.plan.origin.y), theme_.palette.quiet);
    if (lessons) {
        lesson_list(theme_, layout.plan, lesson_rows_, units(), context(), message_, start_ui_, requests_);
    } else {
        start_page(theme_, layout.plan, rows_, results_, context(), message_, start_ui_, requests_);
    }
}

} // namespace sondeyard::ui
