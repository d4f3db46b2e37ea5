// The course: what a lesson is, how its steps and its test are checked, and how its guidance fades.
//
// A lesson is worked like any exercise. Beside it stands a list of steps, each of which is done when a check holds: the
// check looks at what the trainee does and sees, and at the truth where it must; nothing is done by clicking "next".
// After the steps comes a small test in another yard, without guidance, judged when it is finished. (What a yard
// teaches in its debrief is field::Lesson, which is something else.) How lessons are written down:
// scenarios/lesson.hpp.
//
// None of it changes an exercise: a replay and a score know nothing of lessons.
#pragma once

#include "field/score.hpp"

#include <array>
#include <span>

namespace sondeyard::field {

// ---- Where the marks belong ----

// Over a sonde as it lies, in free space: track_spots of field/track.hpp as places in plan, metres.
struct TruePlaces {
    glm::dvec2 sonde_m{0.0};
    glm::dvec2 ahead{0.0, 1.0}; // unit vector along the track, towards the raised end
    double depth_m = 0.0;       // from the surface over the sonde to its centre
    glm::dvec2 peak_m{0.0};     // of the total field
    glm::dvec2 level_m{0.0};    // where the level line crosses the track
    std::vector<glm::dvec2> plumb_m;
    std::vector<glm::dvec2> ghost_m; // where a level coil along the track has its false peaks, beyond the plumb points
};
TruePlaces true_places(const World& world, const SondeTruth& sonde);

// ---- Checks ----

// What one check has seen since it began to be looked at.
struct Watch {
    bool begun = false;
    bool done = false;
    double lowest_dbpt = 0.0; // never below what is shown with nothing to hear: there it is only noise
    double highest_dbpt = 0.0;
    double began_hum_dbpt = 0.0;
    int held_ticks = 0; // for how long it has held without a break
    double facing_deg = 0.0;
    double turned_deg = 0.0; // with the feet where they are or walking round the tip
    glm::dvec2 tip_m{0.0};
    int side = 0;      // of the sonde's track that the tip was last clearly on: -1, 0 (neither), 1
    int crossings = 0; // from one clear side to the other
    std::array<bool, receiver_frequencies_hz.size()> heard_on{}; // frequencies that the receiver was set to
};

struct CheckParameter {
    std::string_view name;
    std::string_view unit;
    double low = 0.0;
    double high = 0.0;
    std::optional<double> standard;          // when it is left out; empty: it has to be given
    std::span<const std::string_view> words; // then the value is one of these, kept as its place among them
    std::string_view meaning;
};
inline constexpr std::size_t most_parameters = 4;
using CheckValues = std::array<double, most_parameters>;

struct CheckView {
    const Setting& setting;
    const ExerciseState& state;
    const Observation& seen;
    const Watch& watch;
};

// A row of the table of checks: name, parameters in the order of CheckValues, and whether it holds at this tick.
struct CheckKind {
    std::string_view name;
    std::span<const CheckParameter> parameters;
    double hold_s = 0.0; // it has to hold so long without a break
    bool lasts = false;  // it asks for what stays written down (a mark, a reading ..), whatever is done afterwards
    bool (*holds)(const CheckValues&, const CheckView&);
    std::string_view meaning;
};
std::span<const CheckKind> check_kinds();
const CheckKind* find_check(std::string_view name); // nullptr when there is none
std::string check_table_markdown();                 // for the manual

struct Check {
    const CheckKind* kind = nullptr;
    CheckValues values{};
};

// One tick further: call after every step. Once done it stays done.
void look(const Check& check, const Setting& setting, const ExerciseState& state, const Observation& seen,
          Watch& watch);

// ---- Lessons ----

// Texts may hold lengths in braces, `{0.5 m}`: see in_units of field/lengths.hpp.
struct CourseStep {
    std::string text; // what to do, one or two sentences
    std::string hint; // how, for the first time through; may be empty
    std::string key;  // id in the window's table of commands; may be empty
    Check done_when;
    bool leads_up = false; // only the way to the next step that does not lead up; that one's check lasts
};

struct TestNeed {
    std::string text; // "both plumb points marked"
    Check done_when;
};

struct LessonTest {
    std::string task; // what is to be done, without saying how
    std::optional<double> locate_within_m;
    std::optional<double> depth_within_percent;
    bool tilt_right = false;
    bool dig_on_pipe = false; // and no safety item failed
    bool dig_safe = false;    // a dig box, and no safety item failed
    std::optional<int> points_at_least;
    std::optional<double> time_at_most_s;
    std::vector<TestNeed> needs;
};

// What of an exercise's score the test asks for; one that asks for points asks for all of it.
ScoreParts asked_of(const LessonTest& test);

struct CourseLesson {
    std::string name; // file stem
    std::string title;
    std::string goal;                    // one sentence
    std::string fact;                    // the figure that it teaches, one sentence
    std::vector<std::string> helps_with; // keys of the coach's findings, and names of parts of the score
    std::vector<CourseStep> steps;
    bool field_shown = false; // the true field may be looked at while working, in the guided part
    LessonTest test;
};

// How much is said, by how often the lesson has been passed. Guidance that stays becomes a crutch (see DEVELOPERS.md).
enum class Guidance {
    full,  // steps and hints: not passed yet
    steps, // steps without hints: passed once
    goal   // the goal and how many steps are done: passed twice or more
};
Guidance guidance_after(int passes);
std::string_view name_of(Guidance guidance);

// The guided part: which step is due. The steps are looked at one after the other; where the one that is due leads up to
// a later one, that one is looked at too, and when it is done the whole way to it is: who has marked the plumb point
// has stood on it, however short a time.
struct LessonWork {
    std::size_t step = 0; // the first that is not done; steps.size() when all are
    Watch watch;
    std::vector<std::int64_t> done_ticks;
};
bool steps_done(const CourseLesson& lesson, const LessonWork& work);
void follow(const CourseLesson& lesson, const Setting& setting, const ExerciseState& state, const Observation& seen,
            LessonWork& work); // one tick

// The test: its needs are looked at in every tick, the rest when it is finished.
struct TestWork {
    std::vector<Watch> needs;
};
void follow(const LessonTest& test, const Setting& setting, const ExerciseState& state, const Observation& seen,
            TestWork& work);

struct Requirement {
    std::string what;   // "locate"
    std::string needed; // "within 0.30 m of the sonde"
    std::string found;  // "0.12 m off"
    bool met = false;
};
// In the order of LessonTest; passed when all are met. An unfinished exercise meets none that asks for a score.
std::vector<Requirement> judge(const LessonTest& test, const ExerciseState& state, const Score& score,
                               const TestWork& work);
bool passed(const std::vector<Requirement>& requirements);
// What the trainee has not done at all yet that the test asks for: for the question before it is finished.
std::vector<std::string> missing(const LessonTest& test, const Notebook& notebook, const TestWork& work);

} // namespace sondeyard::field
