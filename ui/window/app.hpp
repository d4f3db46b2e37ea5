// The program behind the window: pages, the exercise being worked, settings and results. Knows ImGui for drawing and
// nothing of SDL, OpenGL or sound, so that tests drive it with plain Input and look at what it draws and steps.
//
//   Input -> update: keys become commands, requests of the last frame are executed, due ticks are stepped and logged
//         -> draw: panels only look; what their buttons ask for waits for the next update
#pragma once

#include "ui/window/lesson_run.hpp"
#include "ui/window/people_pages.hpp"
#include "ui/window/session.hpp"
#include "ui/window/start_page.hpp"

#include <memory>
#include <optional>
#include <utility>

namespace sondeyard::ui {

struct AppOptions {
    std::filesystem::path config = config_folder(); // settings.toml; empty: settings are not kept
    std::filesystem::path data = data_folder();     // progress.db, logs/, pictures/; empty: nothing is kept
    std::optional<std::string> scenario;            // path or bundled name: straight into it
    std::optional<std::string> lesson;              // path or bundled name: straight into that lesson
    std::optional<std::uint64_t> seed;
    std::optional<std::filesystem::path> log;    // of the first exercise
    std::optional<std::filesystem::path> replay; // a stored log: straight to its time machine
    std::optional<double> scale;
    std::optional<bool> night;
    std::optional<field::Units> units;
    bool mute = false;
};

struct Sound {
    double signal_dbpt = -100.0;
    double volume = 0.5;
    bool muted = false;
    bool running = false;
    double hum_dbpt = -100.0;
    double mains_hz = 60.0;
};

class App {
public:
    // Needs no window, and makes no file but the store that takes older results over. Throws scenarios::ScenarioError,
    // field::LogError for a bad scenario or log given.
    explicit App(AppOptions options);
    ~App();

    // To be called once an ImGui context is there, and again when fonts_stale(): loads the fonts.
    bool load_fonts(std::string& why_not);
    bool fonts_stale() const { return fonts_stale_; }

    void update(const Input& given, double frame_s, ImVec2 size);
    void draw(ImVec2 size);

    Page page() const { return page_; }
    bool quit() const { return quit_; }
    bool moving() const;    // an exercise runs: frames are wanted even without input
    bool work_left() const; // something is still being prepared: another frame is wanted
    Sound sound() const;
    void set_sound_status(std::string status) { sound_status_ = std::move(status); }
    void set_hidden(bool hidden); // the window cannot be seen: the exercise rests
    void set_window_size(int width, int height);
    void set_surface(Surface* surface);                           // where it is drawn; nullptr before that is gone
    void set_screen_height(int lines) { screen_height_ = lines; } // of the display, for the size of writing
    const Settings& settings() const { return settings_; }
    const Session* session() const { return session_.get(); }
    // The exercise begun is a lesson that shows the field while one works: see ExerciseUi::field_allowed.
    void allow_field(bool allowed);
    const Theme& theme() const { return theme_; }
    LeftPanel left(ImVec2 size) const;
    CommandContext context() const;
    std::vector<std::string> take_trace() { return std::exchange(trace_, {}); }
    std::optional<std::filesystem::path> take_picture_wish(); // where the next frame is to be written
    void picture_done(const std::filesystem::path& path, bool written, const std::string& why_not);
    void save_settings_if_changed();
    std::string keep_at_last(); // results that wait for the store; see People

    // The debrief of a stored work log, at its time machine. A log that was cut off or altered is played up to there, which
    // the page says. Throws field::LogError, scenarios::ScenarioError or std::exception, with file and line, when there is
    // nothing to play; what was open then stays open.
    void open_log(const std::filesystem::path& path);
    bool try_to_open_log(const std::filesystem::path& path); // false: the start page says why not

    bool execute(std::string_view id); // a command by id; false when there is none or it is not enabled

private:
    void begin(const scenarios::Scenario& scenario, std::uint64_t seed, int course_index); // throws when it cannot be
    void try_to_begin(const scenarios::Scenario& scenario, std::uint64_t seed,
                      int course_index); // message_ says why not
    void take_requests();
    void move_hand_and_view(const Input& input, double frame_s);
    void pan_debrief(const Input& input, double frame_s);
    void update_replay(const Input& input, double frame_s); // app_replay.cpp
    void hold_replay_steps(const Input& input, double frame_s);
    bool replaying() const; // the time machine is on the screen
    void step_exercise(const Input& input, double frame_s);
    void finish_exercise();
    Result result_of_work();
    void make_one_thumbnail();
    // app_trace.cpp
    void note_trace(ImVec2 size);
    void note_places(const std::vector<ClickPlace>& all);
    // app_pages.cpp
    float font_height() const;
    Settings shown_settings() const; // with what the command line says instead
    std::string said_before(const std::string& due) const;
    void draw_exercise(ImVec2 size);
    void draw_debrief(ImVec2 size);
    void draw_start(ImVec2 size);
    void draw_left_plain(const Area& area, LeftPanel which);
    // Header, and the sheet at the left, of a page that is not the exercise's. With little room the header has the first
    // `narrow` of its buttons; a negative tick: no clock.
    Layout lay_out_page(ImVec2 size, std::string_view title, std::string_view beside,
                        std::span<const std::string_view> buttons, std::size_t narrow = 2, std::int64_t tick = -1);
    // app_people.cpp
    std::string keep_result(const Result& result); // empty, or what went wrong; results_ has it in any case
    void take_up_results();
    void take_up_person();
    void show_people();
    void add_person();
    void take_people_requests();
    std::string title_of(std::string_view exercise) const;
    void work_out_progress();
    void show_progress();
    void take_progress_requests();
    void open_attempt(const Result& result);
    void export_csv();
    void confirm_delete();
    void open_row();
    void draw_people(ImVec2 size);
    void draw_progress(ImVec2 size);
    void begin_row(int index, std::uint64_t seed);
    std::uint64_t next_seed(std::string_view exercise) const;
    std::string result_name() const; // of what is being worked: what its results are kept under
    std::string result_name(const scenarios::Scenario& scenario, int course_index) const;
    static constexpr float base_height_px = 16.0F; // of the writing at scale 1
    bool dark() const { return options_.night.value_or(settings_.night); }
    field::Units units() const { return options_.units.value_or(settings_.units); }
    bool muted() const { return options_.mute || settings_.muted; }
    // app_lessons.cpp
    void begin_lesson(std::shared_ptr<const scenarios::LessonFile> file, int index); // message_ says why not
    void begin_lesson_row(int index);
    void begin_part(std::unique_ptr<LessonRun> run, std::uint64_t seed); // throws when its yard cannot be built
    void begin_test(std::uint64_t seed);
    void go_on_with_lesson(); // once a frame while one is taken
    void finish_lesson_part();
    void next_lesson();
    std::uint64_t next_test_seed() const;
    void show_list(StartList list);
    void change_list(StartList list);
    void draw_lesson_result(ImVec2 size);
    // app_commands.cpp
    bool carry_out_here(std::string_view id); // what a command does to the program; false: not one of these
    void change_scale(int steps);
    void ask_to_leave();
    void leave();
    void toggle_left(LeftPanel which);
    void change_volume(double by);
    void choose_row(int by);
    void again(std::uint64_t seed);
    void next_exercise();
    void wish_picture();
    void toggle_map();
    void take_up_units(); // the theme and the session say lengths as the settings want them
    void toggle_lesson_map();

    AppOptions options_;
    Settings settings_;
    Settings saved_;
    std::string message_; // on the start page
    std::vector<CourseRow> rows_;
    std::vector<LessonRow> lesson_rows_;
    People people_;
    std::vector<Result> results_; // of the one who practises now
    PeopleUi people_ui_;
    ProgressUi progress_ui_;
    ProgressFacts progress_;
    StartUi start_ui_;
    Page page_ = Page::start;
    std::unique_ptr<Session> session_;
    Theme theme_;
    Requests requests_;
    std::optional<LeftPanel> left_choice_;
    float scroll_ = 0.0F;
    ImVec2 size_{1366, 768};
    Surface* surface_ = nullptr;
    int screen_height_ = 768;
    bool fonts_stale_ = true;
    bool hidden_ = false;
    bool quit_ = false;
    bool resized_ = false;
    std::string sound_status_;
    std::optional<std::filesystem::path> picture_wish_;
    std::vector<std::string> trace_;
    std::vector<std::string> traced_; // last line of each kind
    std::vector<ClickPlace> places_;  // of the last frame
    std::vector<std::string_view> held_buttons_;
};

// How much larger than at 1366x768 writing and instruments are in a larger window: with the cube root of its smaller
// side, so that most of the room gained goes to the plan. 1 in smaller ones, which are laid out for that.
double growth_of_window(ImVec2 size);

} // namespace sondeyard::ui
