#include "ui/window/app.hpp"

#include "scenarios/log_header.hpp"
#include "ui/window/picture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace sondeyard::ui {

namespace {

constexpr int hint_every_ticks = 6;
constexpr std::array<double, 10> scales = {0.75, 0.85, 1.0, 1.15, 1.3, 1.5, 1.75, 2.0, 2.5, 3.0};
constexpr float base_height_px = 16.0F; // of the writing at scale 1

// Writing that can be read at an arm's length on a display of this many lines.
double scale_of_screen(int screen_height) {
    return screen_height < 1000 ? 1.0 : screen_height < 1300 ? 1.15 : screen_height < 1700 ? 1.5 : 2.0;
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
float next_strength(const Settings& settings, bool assessment) {
    if (assessment || settings.next_line == NextLine::off) {
        return 0.0F;
    }
    if (settings.next_line == NextLine::always) {
        return 1.0F;
    }
    return std::clamp(1.0F - static_cast<float>(settings.exercises_done - 3) / 6.0F, 0.0F, 1.0F);
}

} // namespace

Session::Session(scenarios::Scenario s, std::uint64_t with_seed, field::World world)
    : scenario(std::move(s)), seed(with_seed), setting(std::move(world)), state(field::start(setting)),
      seen(field::observe(setting, state)) {
    hand.place_m = seen.tip_m;
    hand.height_m = carried_height_m;
    history.push(0, seen.signal_dbpt);
    hint = field::next_hint(setting.brief, state, seen);
}

App::App(AppOptions options) : options_(std::move(options)) {
    LoadedSettings loaded = load_settings(options_.config / "settings.toml");
    settings_ = loaded.settings;
    saved_ = loaded.settings;
    message_ = loaded.trouble;
    results_ = load_results(options_.data / "results.jsonl");
    rows_ = course_rows();
    start_ui_.selected = next_to_do(rows_, results_);
    if (options_.scenario) {
        const scenarios::Scenario scenario = scenarios::find_scenario(*options_.scenario);
        const auto row = std::ranges::find(rows_, *options_.scenario, &CourseRow::name);
        const std::string name = row == rows_.end() ? "file:" + scenario.name() : row->name;
        auto world = scenarios::resolve(scenario, options_.seed.value_or(next_seed(name)));
        (void)world; // a scenario that cannot be built is refused here, before a window opens
        begin(scenario, options_.seed.value_or(next_seed(name)),
              row == rows_.end() ? -1 : static_cast<int>(row - rows_.begin()));
    } else if (!loaded.existed && results_.empty() && !rows_.empty()) {
        begin_row(0, options_.seed.value_or(1)); // the very first start is the first exercise
    }
    if (session_ && options_.log) {
        open_log(); // a log file that cannot be made is refused before a window opens
    }
}

App::~App() {
    quit_ = true;
    save_settings_if_changed();
}

// ---- Beginning and ending an exercise ----

std::string App::result_name() const {
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

bool App::begin(const scenarios::Scenario& scenario, std::uint64_t seed, int course_index) {
    try {
        auto session = std::make_unique<Session>(scenario, seed, scenarios::resolve(scenario, seed));
        session->course_index = course_index;
        session_ = std::move(session);
    } catch (const std::exception& e) {
        message_ = fmt::format("{} with seed {}: {}", scenario.title(), seed, e.what());
        page_ = Page::start;
        return false;
    }
    page_ = Page::exercise;
    message_.clear();
    left_choice_.reset();
    return true;
}

void App::begin_row(int index, std::uint64_t seed) {
    if (index >= 0 && index < static_cast<int>(rows_.size())) {
        start_ui_.selected = index;
        begin(scenarios::bundled(rows_[static_cast<std::size_t>(index)].name), seed, index);
    }
}

void App::open_log() {
    Session& s = *session_;
    const field::LogHeader header = scenarios::log_header(s.setting.world, SONDEYARD_VERSION);
    if (options_.log) {
        s.log_path = *std::exchange(options_.log, std::nullopt); // the next exercise gets a name of its own
        s.log = std::make_unique<field::LogWriter>(s.log_path, header);
        return;
    }
    try {
        const std::filesystem::path folder = options_.data / "logs";
        std::filesystem::create_directories(folder);
        const std::string stem = file_stem_of(s.setting.brief.sheet.title) + "-" + local_time_text("%Y%m%d-%H%M%S");
        s.log_path = folder / (stem + ".jsonl");
        for (int n = 2; std::filesystem::exists(s.log_path); ++n) {
            s.log_path = folder / fmt::format("{}-{}.jsonl", stem, n);
        }
        s.log = std::make_unique<field::LogWriter>(s.log_path, header);
    } catch (const std::exception& e) {
        s.log_trouble = fmt::format("No work log is written: {}. The exercise goes on.", e.what());
    }
}

void App::finish_exercise() {
    Session& s = *session_;
    if (s.log) {
        s.log->end(s.state);
    }
    s.score = field::score(s.setting, s.state);
    s.debrief = field::debrief(s.setting, s.state, *s.score);
    s.debrief_ui = DebriefState{};
    const Result result{.exercise = result_name(),
                        .seed = s.seed,
                        .points = s.score->points,
                        .passed = s.score->passed,
                        .date = local_time_text("%Y-%m-%d %H:%M"),
                        .log = s.log_path.filename().string()};
    results_.push_back(result);
    s.debrief_ui.message = append_result(options_.data / "results.jsonl", result);
    if (s.debrief_ui.message.empty()) {
        s.debrief_ui.message = s.log_trouble;
    }
    ++settings_.exercises_done;
    save_settings_if_changed();
    start_ui_.selected = next_to_do(rows_, results_);
    page_ = Page::debrief;
    left_choice_.reset();
    trace_.push_back(fmt::format("score {} {}", s.score->points, s.score->passed ? "passed" : "not passed"));
}

// ---- Commands ----

CommandContext App::context() const {
    CommandContext c;
    c.page = page_;
    if (!session_) {
        return c;
    }
    const Session& s = *session_;
    const field::Notebook& n = s.state.notebook;
    c.tri_axis = s.setting.brief.receiver_kind == sim::ReceiverKind::tri_axis;
    c.tip_down = s.hand.height_m < 0.05;
    c.finish_asked = s.finish_asked;
    c.leave_asked = s.leave_asked;
    c.has_marks = !n.marks.empty();
    c.mark_selected = std::ranges::any_of(n.marks, [&](const field::Mark& m) { return m.id == s.ui.selected_mark; });
    c.has_readings = !n.readings.empty();
    c.has_counted_reading = std::ranges::any_of(n.readings, &field::Reading::counts);
    c.has_dig = n.dig.has_value();
    c.can_undo = !s.state.undo.empty();
    c.form_open = s.ui.form.open;
    c.paused = s.clock.paused();
    c.has_next = s.course_index >= 0 && s.course_index + 1 < static_cast<int>(rows_.size());
    return c;
}

void App::ask(field::Command command) {
    session_->queue.push_back(std::move(command));
    session_->clock.go_on();
}

// What each command does. Held ones are looked at in every tick instead, and the plan's zoom and pan where the view is
// moved.
struct Doers {
    using Do = void (*)(App&);
    struct Entry {
        std::string_view id;
        Do run;
    };

    // Keys may come faster than ticks: what is asked for already counts as done when the next step of a cycle is
    // chosen.
    template <typename T>
    static const T* last_asked(const App& a) {
        const auto& queue = a.session_->queue;
        const auto found = std::find_if(queue.rbegin(), queue.rend(),
                                        [](const field::Command& c) { return std::holds_alternative<T>(c); });
        return found == queue.rend() ? nullptr : &std::get<T>(*found);
    }

    static void propose(App& a, const field::DigBox& box) { a.ask(field::ProposeDig{box}); }

    static void place_dig(App& a) {
        Session& s = *a.session_;
        field::DigBox box = s.state.notebook.dig.value_or(field::DigBox{});
        box.centre_m = s.seen.tip_m;
        box.heading_deg = s.seen.facing_deg;
        propose(a, box);
        s.ui.form.open = true;
    }

    static void call_depth(App& a) {
        const field::Notebook& n = a.session_->state.notebook;
        const auto last = std::find_if(n.readings.rbegin(), n.readings.rend(), [](const auto& r) { return r.counts; });
        if (last == n.readings.rend()) {
            return;
        }
        double depth_m = *last->depth_m;
        if (const field::Reading* first = field::find_reading(n, last->facing_reading_of);
            first != nullptr && first->counts) {
            depth_m = std::round(50.0 * (depth_m + *first->depth_m)) / 100.0; // the mean, as one writes it down
        }
        a.ask(field::CallDepth{depth_m});
        a.session_->ui.form.open = true;
    }

    static void call_tilt(App& a) {
        const field::Notebook& n = a.session_->state.notebook;
        using enum field::TiltCall;
        const auto* asked = last_asked<field::CallTilt>(a);
        const field::TiltCall now = asked != nullptr ? asked->call : n.tilt_call;
        const field::TiltCall next = now == none ? level : now == level ? tilted : now == tilted ? on_end : none;
        a.ask(field::CallTilt{next, next == tilted ? a.session_->seen.facing_deg : 0.0, std::nullopt});
        a.session_->ui.form.open = true;
    }

    static void raised_end(App& a) {
        a.ask(field::CallTilt{field::TiltCall::tilted, a.session_->seen.facing_deg,
                              a.session_->state.notebook.tilt_angle_call_deg});
        a.session_->ui.form.open = true;
    }

    static void dig_method(App& a) {
        const auto* asked = last_asked<field::ProposeDig>(a);
        field::DigBox box = asked != nullptr ? asked->box : *a.session_->state.notebook.dig;
        using enum field::DigMethod;
        box.method = box.method == machine ? hand : box.method == hand ? vacuum : machine;
        propose(a, box);
        a.session_->ui.form.open = true;
    }

    static void dig_to_pipe(App& a) {
        const field::Notebook& n = a.session_->state.notebook;
        if (!n.depth_call_m) {
            a.session_->note = "Call the depth first: key 6, or type it in.";
            return;
        }
        field::DigBox box = *n.dig;
        box.depth_m = std::max(0.0, field::pipe_top_depth_m(*n.depth_call_m, a.session_->setting.brief.sheet));
        propose(a, box);
    }

    static void next_frequency(App& a) {
        const auto& all = field::receiver_frequencies_hz;
        const auto* asked = last_asked<field::SetFrequency>(a);
        const auto now = std::ranges::find(all, asked != nullptr ? asked->frequency_hz : a.session_->seen.frequency_hz);
        a.ask(field::SetFrequency{now == all.end() || now + 1 == all.end() ? all.front() : *(now + 1)});
    }

    static void select_mark(App& a) {
        const auto& marks = a.session_->state.notebook.marks;
        int& chosen = a.session_->ui.selected_mark;
        const auto now = std::ranges::find(marks, chosen, &field::Mark::id);
        chosen = now == marks.end() ? marks.back().id : now == marks.begin() ? 0 : (now - 1)->id;
    }

    static void take_back(App& a) { a.ask(field::TakeBack{a.session_->state.notebook.marks.back().kind}); }

    static void pause(App& a) {
        Session& s = *a.session_;
        if (s.clock.paused()) {
            s.clock.go_on();
        } else {
            s.clock.pause();
        }
    }

    static void toggle_form(App& a) {
        DigForm& form = a.session_->ui.form;
        form.open = !form.open;
        form.focus_first = form.open;
    }

    static void go_back(App& a) {
        Session& s = *a.session_;
        if (s.finish_asked || s.leave_asked) {
            s.finish_asked = s.leave_asked = false;
        } else {
            s.ui.form.open = false;
        }
    }

    static void start_page(App& a) {
        if (a.page_ == Page::exercise && a.session_->started) {
            a.session_->leave_asked = true;
            return;
        }
        leave(a);
    }

    static void leave(App& a) {
        a.page_ = Page::start;
        a.left_choice_.reset();
        a.start_ui_.bring_into_view = true;
        a.session_.reset(); // the log is flushed line by line; without an end line it says that it is unfinished
    }

    static void toggle_left(App& a, LeftPanel which) {
        const bool shown = a.left(a.size_) == which;
        if (!shown) {
            a.left_choice_ = which;
        } else if (which == LeftPanel::sheet) {
            a.left_choice_ = LeftPanel::folded;
        } else {
            a.left_choice_.reset();
        }
    }

    static void volume(App& a, double by) {
        a.settings_.volume = std::clamp(std::round((a.settings_.volume + by) * 10.0) / 10.0, 0.0, 1.0);
    }

    static void row(App& a, int by) {
        a.start_ui_.selected =
            std::clamp(a.start_ui_.selected + by, 0, std::max(0, static_cast<int>(a.rows_.size()) - 1));
        a.start_ui_.bring_into_view = true;
    }

    static void again(App& a, std::uint64_t seed) {
        const scenarios::Scenario scenario = a.session_->scenario; // begin replaces the session
        a.begin(scenario, seed, a.session_->course_index);
    }

    static const std::vector<Entry>& work();
    static const std::vector<Entry>& window();
};

const std::vector<Doers::Entry>& Doers::work() {
    using field::MarkKind;
    static const std::vector<Entry> entries = {
        {"hold_hand", [](App& a) { a.session_->hand.held_still = !a.session_->hand.held_still; }},
        {"toggle_height",
         [](App& a) {
             double& height = a.session_->hand.height_m;
             height = height > 0.05 ? 0.0 : carried_height_m;
         }},
        {"lift", [](App& a) { a.session_->hand.height_m = field::lift_m; }},
        {"half_round", [](App& a) { a.ask(field::TurnBy{180.0}); }},
        {"quarter_round", [](App& a) { a.ask(field::TurnBy{90.0}); }},
        {"frequency_next", next_frequency},
        {"coil",
         [](App& a) {
             a.ask(field::TurnCoil{a.session_->seen.coil == sim::CoilAttitude::level ? sim::CoilAttitude::upright
                                                                                     : sim::CoilAttitude::level});
         }},
        {"mark_plumb", [](App& a) { a.ask(field::PlaceMark{MarkKind::plumb}); }},
        {"mark_level", [](App& a) { a.ask(field::PlaceMark{MarkKind::level}); }},
        {"mark_peak", [](App& a) { a.ask(field::PlaceMark{MarkKind::peak}); }},
        {"mark_locate", [](App& a) { a.ask(field::PlaceMark{MarkKind::locate}); }},
        {"read_depth", [](App& a) { a.ask(field::ReadDepth{}); }},
        {"delete_reading", [](App& a) { a.ask(field::DeleteReading{a.session_->state.notebook.readings.back().id}); }},
        {"take_back", take_back},
        {"select_mark", select_mark},
        {"move_mark", [](App& a) { a.ask(field::MoveMark{a.session_->ui.selected_mark}); }},
        {"take_back_plumb", [](App& a) { a.ask(field::TakeBack{MarkKind::plumb}); }},
        {"take_back_level", [](App& a) { a.ask(field::TakeBack{MarkKind::level}); }},
        {"take_back_peak", [](App& a) { a.ask(field::TakeBack{MarkKind::peak}); }},
        {"take_back_locate", [](App& a) { a.ask(field::TakeBack{MarkKind::locate}); }},
        {"undo", [](App& a) { a.ask(field::Undo{}); }},
        {"dig_box", place_dig},
        {"call_depth", call_depth},
        {"call_tilt", call_tilt},
        {"raised_end", raised_end},
        {"dig_method", dig_method},
        {"edit_form", toggle_form},
        {"dig_to_pipe", dig_to_pipe},
        {"take_back_dig", [](App& a) { a.ask(field::TakeBackDig{}); }},
        {"truck_check", [](App& a) { a.ask(field::TruckCheck{}); }},
        {"read_ticket", [](App& a) { a.ask(field::ReadTicket{}); }},
    };
    return entries;
}

const std::vector<Doers::Entry>& Doers::window() {
    static const std::vector<Entry> entries = {
        {"help", [](App& a) { toggle_left(a, LeftPanel::help); }},
        {"sheet", [](App& a) { toggle_left(a, LeftPanel::sheet); }},
        {"settings", [](App& a) { toggle_left(a, LeftPanel::settings); }},
        {"night",
         [](App& a) {
             a.settings_.night = !a.dark();
             a.options_.night.reset();
             set_palette(a.theme_, a.settings_.night ? ThemeChoice::night : ThemeChoice::day);
         }},
        {"next_line",
         [](App& a) {
             a.settings_.next_line = static_cast<NextLine>((static_cast<int>(a.settings_.next_line) + 1) % 3);
         }},
        {"volume_up", [](App& a) { volume(a, 0.1); }},
        {"volume_down", [](App& a) { volume(a, -0.1); }},
        {"mute",
         [](App& a) {
             a.settings_.muted = !a.muted();
             a.options_.mute = false;
         }},
        {"scale_up", [](App& a) { a.change_scale(1); }},
        {"scale_down", [](App& a) { a.change_scale(-1); }},
        {"zoom_in", [](App&) {}},
        {"zoom_out", [](App&) {}},
        {"follow", [](App& a) { a.session_->ui.follow = true; }},
        {"whole_yard", [](App& a) { a.session_->ui.view_placed = false; }},
        {"finish", [](App& a) { a.session_->finish_asked = true; }},
        {"confirm_finish",
         [](App& a) {
             a.session_->finish_asked = false;
             a.ask(field::Finish{});
         }},
        {"confirm_leave", leave},
        {"go_back", go_back},
        {"pause", pause},
        {"again_same", [](App& a) { again(a, a.session_->seed); }},
        {"again_new", [](App& a) { again(a, std::max(a.session_->seed + 1, a.next_seed(a.result_name()))); }},
        {"next_exercise",
         [](App& a) {
             const int next = a.session_->course_index + 1;
             a.begin_row(next, a.next_seed(a.rows_[static_cast<std::size_t>(next)].name));
         }},
        {"save_picture",
         [](App& a) {
             a.picture_wish_ =
                 free_picture_path(a.options_.data / "pictures", file_stem_of(a.session_->setting.brief.sheet.title));
         }},
        {"reasons", [](App& a) { a.session_->debrief_ui.reasons = !a.session_->debrief_ui.reasons; }},
        {"row_up", [](App& a) { row(a, -1); }},
        {"row_down", [](App& a) { row(a, 1); }},
        {"open_row", [](App& a) { a.start_ui_.begin = a.start_ui_.selected; }},
        {"start_page", start_page},
        {"quit", [](App& a) { a.quit_ = true; }},
    };
    return entries;
}

bool App::execute(std::string_view id) {
    if (!enabled(id, context())) {
        return false;
    }
    for (const auto* entries : {&Doers::work(), &Doers::window()}) {
        const auto entry = std::ranges::find(*entries, id, &Doers::Entry::id);
        if (entry != entries->end()) {
            entry->run(*this);
            return true;
        }
    }
    return false; // held: looked at elsewhere
}

float App::font_height() const {
    const double scale = options_.scale.value_or(settings_.scale);
    const double used = scale == 0.0 ? scale_of_screen(options_.screen_height) : scale;
    const float wanted = base_height_px * static_cast<float>(std::clamp(used, smallest_scale, largest_scale));
    // A window must hold 42 letters' heights across and 29 down, or the panels would cut each other off.
    return std::floor(std::min({std::round(wanted), size_.x / 42.0F, size_.y / 29.0F}));
}

void App::change_scale(int steps) {
    const double now = static_cast<double>(font_height() / base_height_px);
    const auto nearest = std::ranges::min_element(scales, {}, [&](double s) { return std::abs(s - now); });
    const auto index = std::clamp<std::ptrdiff_t>(nearest - scales.begin() + steps, 0, std::ssize(scales) - 1);
    settings_.scale = scales[static_cast<std::size_t>(index)];
    options_.scale.reset();
    fonts_stale_ = true;
}

bool App::load_fonts(std::string& why_not) {
    fonts_stale_ = false;
    return load_theme(theme_, dark() ? ThemeChoice::night : ThemeChoice::day, font_height(), why_not);
}

LeftPanel App::left(ImVec2 size) const {
    if (page_ == Page::exercise) {
        return left_choice_.value_or(is_narrow(theme_, size) ? LeftPanel::folded : LeftPanel::sheet);
    }
    const LeftPanel choice = left_choice_.value_or(LeftPanel::folded);
    return choice == LeftPanel::sheet ? LeftPanel::folded : choice;
}

// ---- One frame ----

void App::take_requests() {
    const Requests asked = std::exchange(requests_, {});
    for (const std::string_view id : asked.commands) {
        execute(id);
    }
    if (page_ == Page::exercise && session_) {
        for (const field::Command& command : asked.work) {
            ask(command);
        }
    }
    if (start_ui_.begin >= 0 && page_ == Page::start) {
        const int row = std::exchange(start_ui_.begin, -1);
        begin_row(row, next_seed(rows_[static_cast<std::size_t>(row)].name));
    }
    start_ui_.begin = -1;
}

void App::update(const Input& input, double frame_s, ImVec2 size) {
    size_ = size;
    take_requests();
    fonts_stale_ |= font_height() != theme_.h;
    // The view and the hand see this frame's keys and pointer before the keys change the page under them.
    if (page_ == Page::exercise && session_) {
        Session& s = *session_;
        const CommandContext c = context();
        const Layout layout = lay_out(theme_, size, left(size), c);
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
    if (!s.log && s.log_trouble.empty()) {
        open_log();
    }
    const int ticks = s.clock.advance(frame_s);
    for (int i = 0; i < ticks && !s.seen.finished; ++i) {
        step_once(input, c);
    }
    if (s.log && s.log_trouble.empty() && !s.log->broken().empty()) {
        s.log_trouble = fmt::format("The work log is cut off: {}. The exercise goes on.", s.log->broken());
    }
    if (s.seen.finished) {
        finish_exercise();
    }
}

// One tick: one Action, one step, one line for the log. Nothing here draws.
void App::step_once(const Input& input, const CommandContext& c) {
    Session& s = *session_;
    follow_keys(s.hand, input, c, s.seen.tip_m);
    field::Action action;
    action.move = move_of(s.hand, input, c, s.seen);
    if (!s.queue.empty()) {
        action.command = std::move(s.queue.front());
        s.queue.pop_front();
    }
    const std::size_t readings_before = s.state.notebook.readings.size();
    s.seen = field::step(s.setting, s.state, action);
    if (s.log) {
        s.log->record(action, s.seen, s.state);
    }
    s.history.push(s.state.tick, s.seen.signal_dbpt);
    if (action.command) {
        s.note = s.seen.refused ? std::string(s.seen.note) : std::string();
        if (const auto& all = s.state.notebook.readings; all.size() > readings_before) {
            trace_.push_back(all.back().depth_m ? fmt::format("reading {:.2f}", *all.back().depth_m) : "reading none");
        }
    }
    if (action.command || s.state.tick % hint_every_ticks == 0) {
        s.hint = field::next_hint(s.setting.brief, s.state, s.seen);
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
    return page_ == Page::start &&
           std::ranges::any_of(rows_, [](const CourseRow& r) { return !r.brief && r.trouble.empty(); });
}

bool App::moving() const {
    return page_ == Page::exercise && session_ && session_->started && !session_->clock.paused() && !hidden_;
}

Sound App::sound() const {
    Sound sound;
    sound.volume = settings_.volume;
    sound.muted = muted();
    sound.running = moving();
    if (session_) {
        sound.signal_dbpt = session_->seen.signal_dbpt;
    }
    return sound;
}

void App::set_hidden(bool hidden) {
    if (hidden_ && !hidden && session_ && !session_->clock.paused()) {
        session_->clock.go_on();
    }
    hidden_ = hidden;
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
    if (std::string trouble = save_settings(options_.config / "settings.toml", settings_); !trouble.empty()) {
        message_ = std::move(trouble);
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
//   page start|exercise|debrief         view CENTRE_EAST CENTRE_NORTH PX_PER_M LEFT TOP WIDTH HEIGHT   (metres, pixels)
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

void App::draw(ImVec2 size) {
    ImGui::SetNextWindowPos(ImVec2(0, 0));
    ImGui::SetNextWindowSize(size);
    ImGui::PushStyleVar(ImGuiStyleVar_WindowPadding, ImVec2(0, 0));
    ImGui::Begin("sondeyard", nullptr,
                 ImGuiWindowFlags_NoDecoration | ImGuiWindowFlags_NoMove | ImGuiWindowFlags_NoSavedSettings |
                     ImGuiWindowFlags_NoBringToFrontOnFocus | ImGuiWindowFlags_NoScrollWithMouse);
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
    }
    ImGui::End();
}

void App::draw_exercise(ImVec2 size) {
    Session& s = *session_;
    const CommandContext c = context();
    const LeftPanel panel = left(size);
    const Layout layout = lay_out(theme_, size, panel, c);
    const std::vector<std::string> missing = s.finish_asked
                                                 ? missing_items(s.state.notebook, s.state.ticket_read_tick.has_value())
                                                 : std::vector<std::string>();
    const std::string place =
        s.course_index >= 0 ? fmt::format("{} of {}", s.course_index + 1, rows_.size()) : std::string();
    Settings shown = settings_;
    shown.night = dark();
    shown.muted = muted();
    const ExerciseModel model{.brief = s.setting.brief,
                              .notebook = s.state.notebook,
                              .seen = s.seen,
                              .trail = s.state.trail,
                              .truck_checks = s.state.truck_checks,
                              .ticket_read = s.state.ticket_read_tick.has_value(),
                              .history = s.history,
                              .context = c,
                              .settings = shown,
                              .course_place = place,
                              .next_sentence = s.hint.sentence,
                              .next_command = s.hint.command,
                              .next_strength = next_strength(settings_, s.assessment),
                              .note = s.note.empty() ? s.log_trouble : s.note,
                              .missing = missing,
                              .selected_mark = s.ui.selected_mark,
                              .hand_held_still = s.hand.held_still,
                              .low = is_low(theme_, size),
                              .waiting = !s.started};
    s.ui.scroll = scroll_;
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
    Settings shown = settings_;
    shown.night = dark();
    shown.muted = muted();
    if (which == LeftPanel::help) {
        help_sheet(theme_, area, context(), scroll_, requests_);
    } else {
        settings_sheet(theme_, area, shown, context(), sound_status_, scroll_, requests_);
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
        const float margin = std::round(0.6F * theme_.h);
        const Area inside{ImVec2(layout.plan.origin.x + margin, layout.plan.origin.y + margin / 2),
                          ImVec2(layout.plan.size.x - 2 * margin, layout.plan.size.y - margin)};
        const Panel child("debrief", inside);
        ImGui::PopStyleVar();
        debrief_page(theme_, context(), s.debrief_ui, s.setting, s.state, *s.score, *s.debrief, inside.size, requests_);
    }
}

void App::draw_start(ImVec2 size) {
    static constexpr std::array<std::string_view, 4> buttons = {"help", "settings", "night", "quit"};
    const LeftPanel panel = left(size);
    const Layout layout = lay_out_plain(theme_, size, panel);
    draw_left_plain(layout.left, panel);
    header_bar(theme_, layout.header, "Exercises", "", -1, buttons, context(), requests_);
    ImGui::GetWindowDrawList()->AddLine(layout.plan.origin, ImVec2(size.x, layout.plan.origin.y), theme_.palette.quiet);
    start_page(theme_, layout.plan, rows_, results_, message_, start_ui_);
}

} // namespace sondeyard::ui
