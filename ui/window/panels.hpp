// The panels of the window: one function a panel. Each gets what it may look at as const and what it keeps between
// frames as one struct; what is asked for with its buttons goes to Requests. None of them is given anything that a
// person in the yard could not know.
#pragma once

#include "field/lengths.hpp"
#include "ui/window/commands.hpp"
#include "ui/window/settings.hpp"

#include <array>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

namespace sondeyard::ui {

struct Area { // pixels
    ImVec2 origin{0, 0};
    ImVec2 size{0, 0};
};

// What the signal was in the last twenty seconds, twenty samples a second, and the figure shown large.
class SignalHistory {
public:
    static constexpr int every_ticks = 3;
    static constexpr std::size_t length = 400;
    static constexpr int figure_every_ticks = 8; // 7.5 changes a second: more cannot be read

    void push(std::int64_t tick, double signal_dbpt);
    // What pushing the signals of all ticks from 0 to this one would have led to.
    void rebuild(std::span<const double> by_tick, std::int64_t tick);
    std::vector<float> in_order() const; // oldest first, at most `length`
    std::size_t size() const { return count_; }
    double largest() const { return largest_; } // of what is kept; -60 when nothing is
    double smallest() const { return smallest_; }
    double figure() const { return figure_; }

private:
    std::array<float, length> ring_{};
    std::size_t next_ = 0;
    std::size_t count_ = 0;
    double largest_ = -60.0;
    double smallest_ = -60.0;
    double figure_ = -60.0;
    bool figure_set_ = false;
};

struct LessonRun;

// Everything the panels of the exercise page may look at.
struct ExerciseModel {
    const field::Brief& brief;
    const field::Notebook& notebook;
    const field::Observation& seen;
    std::span<const field::TrailPoint> trail;
    std::span<const field::TruckCheckResult> truck_checks;
    bool ticket_read = false;
    const SignalHistory& history;
    const CommandContext& context;
    const Settings& settings;
    const LessonRun* lesson = nullptr; // being taken, or none
    std::string_view course_place{};   // "3 of 8", or empty
    std::string_view next_sentence{};
    std::string_view next_command{};        // id, may be empty
    float next_strength = 1.0F;             // 0 gone, 1 full
    std::string_view note{};                // the last refusal or trouble, one line
    std::span<const std::string> missing{}; // for the finish question
    int selected_mark = 0;                  // id, 0 none
    double cable_step_m = 1.0;              // what the cable hand is asked for at a time
    bool hand_held_still = false;
    bool low = false;     // the window is low: see is_low
    bool waiting = false; // nothing has been done yet; the clock starts with the first movement
};

enum class FormNumber { none, depth_call, tilt, raised, dig_length, dig_width, dig_depth, dig_turn };

struct DigForm { // what the form of calls and dig box keeps while numbers are being typed
    bool open = false;
    FormNumber wished = FormNumber::none; // a key opened it: it gets the keyboard when what the key asked for is done
    FormNumber focus = FormNumber::none;  // it gets the keyboard in the next frame
    FormNumber active = FormNumber::none; // it has the keyboard
    int awaited_frames = 0;               // so long at most keys wait for the number that is to get them
    std::string typed_ahead;              // those keys
    using Text = std::array<char, 40>;    // a length as it is typed: see field::parse_length
    Text length{}, width{}, depth{}, depth_call{};
    float turn_deg = 0, raised_deg = 0, tilt_deg = 0;
    std::string trouble; // of the last length that was typed
};

// Opens the form with the keyboard in one of its numbers.
void open_at(DigForm& form, FormNumber number);
// Of a key pressed before that number has the keyboard: true when it is for the number, and no command.
bool is_for_number(DigForm& form, const Chord& chord);
// Once a frame, before ImGui's: hands over what was typed ahead. `idle`: nothing is left that the key asked for.
void bring_keyboard(DigForm& form, bool idle);
// What the keyboard does while a number has it.
std::string typing_words(const DigForm& form);

enum class LeftPanel { folded, sheet, help, settings, worksheet, lesson };

// ---- Helpers of all panels ----

// A child window with padding; the destructor ends it.
class Panel {
public:
    Panel(const char* id, const Area& area, ImGuiWindowFlags flags = 0);
    ~Panel();
    Panel(const Panel&) = delete;
    Panel& operator=(const Panel&) = delete;
};
void heading(const Theme& theme, std::string_view text);
void note_text(const Theme& theme, std::string_view text, ImU32 colour); // small type, wrapped
// In the current font and colour, broken at blanks only, to this width or to what the panel has left.
void wrapped(std::string_view text, float width = 0.0F);
void scroll_by(float pixels);                             // of the current panel
void caption(const Theme& theme, std::string_view words); // small and quiet
void gap(const Theme& theme, float share_of_h);
void rule(const Theme& theme); // a thin line across the panel
void text_at(ImDrawList& list, ImFont* font, ImVec2 at, ImU32 colour, std::string_view words);
ImVec2 size_of(ImFont* font, std::string_view words);

// ---- The panels ----

void header_bar(const Theme& theme, const Area& area, std::string_view title, std::string_view beside,
                std::int64_t tick, std::span<const std::string_view> buttons, const CommandContext& context,
                Requests& requests);
void receiver_panel(const Theme& theme, const Area& area, const ExerciseModel& model, Requests& requests);
// The receiver's display alone, without controls: the replay's. In a low area without the trace.
void receiver_display(const Theme& theme, const Area& area, const ExerciseModel& model);
// A part of the job sheet that is to be brought to the top of what is seen of it.
enum class SheetPart { none, ticket, truck };
void job_sheet(const Theme& theme, const Area& area, const ExerciseModel& model, float scroll, SheetPart& part,
               Requests& requests);
// What a check at the truck showed: "512 Hz reads 2.00 m: good."
std::string truck_words(const Theme& theme, const field::Brief& brief, const field::TruckCheckResult& check);
void help_sheet(const Theme& theme, const Area& area, const CommandContext& context, float scroll, Requests& requests);
void settings_sheet(const Theme& theme, const Area& area, const Settings& settings, const CommandContext& context,
                    std::string_view sound, float scroll, Requests& requests);

// The strip below: NEXT, marks and readings (or the question, or the form), buttons. `strip_height` says what it needs.
// In a low window (`is_low`) it keeps to one row of buttons, the most used first; all others have their keys.
bool is_low(const Theme& theme, ImVec2 window);
float strip_height(const Theme& theme, ImVec2 window, const CommandContext& context);
void strip(const Theme& theme, const Area& area, const ExerciseModel& model, DigForm& form, Requests& requests);

} // namespace sondeyard::ui
