// One exercise from its beginning to its debrief: what the window keeps of it, its ticks and its log, and what each
// command does to it. Draws nothing and knows nothing of other exercises, settings or results.
#pragma once

#include "field/debrief.hpp"
#include "field/guide.hpp"
#include "field/recording.hpp"
#include "scenarios/scenario.hpp"
#include "ui/window/clock.hpp"
#include "ui/window/debrief_page.hpp"
#include "ui/window/exercise_page.hpp"
#include "ui/window/lesson_run.hpp"

#include <deque>
#include <memory>
#include <optional>

namespace sondeyard::ui {

struct Session {
    Session(scenarios::Scenario s, std::uint64_t with_seed, field::World world);

    scenarios::Scenario scenario;
    std::uint64_t seed = 0;
    field::Units units = field::Units::metric; // of its sentences; see App::take_up_units
    int course_index = -1;                     // in the bundled course, or -1
    field::Setting setting;
    field::ExerciseState state;
    field::Observation seen;
    std::deque<field::Command> queue; // one a tick
    field::WorkLog record; // every tick so far, whether or not a file could be written; its header with the first tick
    std::unique_ptr<field::LogWriter> log;
    std::filesystem::path log_path;
    SignalHistory history;
    Hand hand;
    StepClock clock;
    ExerciseUi ui;
    field::Hint hint;
    bool started = false; // the clock starts with the first movement
    bool finish_asked = false;
    bool leave_asked = false;
    std::string note;        // the last refusal
    std::string log_trouble; // one sentence when there is no log, or when it stopped; the exercise goes on
    std::optional<field::Score> score;
    std::optional<field::Debrief> debrief;
    DebriefState debrief_ui;
    field::ScoreParts asked;           // of the score: a lesson's test asks for some of it only
    std::optional<bool> test_passed;   // of a lesson's test opened again from its log: what it came to then
    std::unique_ptr<LessonRun> lesson; // the lesson that this is part of, or none
};

// The exercise page's context; the course's part (has_next) is the caller's.
CommandContext context_of(const Session& session);

// Asked of the next tick; a pause ends with it.
void ask(Session& session, const field::Command& command);

// What a command of the table does to the exercise. False: not one of these. The caller has seen that it is enabled.
bool carry_out(Session& session, std::string_view id);

// One tick: one Action, one step, one entry for the record and for the log.
void step_once(Session& session, const Input& input, const CommandContext& context);

// ---- The work log. Nothing that goes wrong with it ends an exercise: it is said in `log_trouble`. ----

// Throws field::LogError when no new file can be made there; leaves none behind.
void check_log_can_be_made(const std::filesystem::path& file);
// In `asked`, else under a new name in data/logs; `data` empty: nowhere.
void begin_log(Session& session, const std::optional<std::filesystem::path>& asked, const std::filesystem::path& data);
void end_log(Session& session);
void watch_log(Session& session); // takes note when it broke off

} // namespace sondeyard::ui
