#include "ui/window/commands.hpp"

#include "ui/window/drafting.hpp"
#include "ui/window/panels.hpp"

#include <SDL_keycode.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sondeyard::ui {

namespace {

using Context = CommandContext;

bool always(const Context&) { return true; }
bool at_start(const Context& c) { return c.page == Page::start; }
bool at_debrief(const Context& c) { return c.page == Page::debrief; }
bool at_people(const Context& c) { return c.page == Page::people; }
bool at_progress(const Context& c) { return c.page == Page::progress && !c.delete_asked; }
bool delete_question(const Context& c) { return c.page == Page::progress && c.delete_asked; }
bool with_person(const Context& c) { return at_progress(c) && c.has_person; }
bool with_rows(const Context& c) { return at_start(c) || at_people(c) || at_progress(c); }
bool to_people(const Context& c) { return at_start(c) || at_progress(c); }
bool to_progress(const Context& c) { return at_start(c) || at_people(c); }
bool in_exercise(const Context& c) { return c.page == Page::exercise; }
bool with_plan(const Context& c) { return in_exercise(c) || at_debrief(c); }
bool asked(const Context& c) { return in_exercise(c) && (c.finish_asked || c.leave_asked); }
// While the strip asks a question the hand rests, so that a key pressed for an answer is not taken for work.
bool working(const Context& c) { return in_exercise(c) && !asked(c); }
bool reads_depth(const Context& c) { return working(c) && c.reads_depth; }
bool has_wide(const Context& c) { return working(c) && c.has_wide; }
bool turns_coil(const Context& c) { return working(c) && c.turns_coil; }
bool with_marks(const Context& c) { return working(c) && c.has_marks; }
bool with_selected(const Context& c) { return working(c) && c.mark_selected; }
bool with_readings(const Context& c) { return working(c) && c.has_readings; }
bool with_tilt_calls(const Context& c) { return working(c) && c.has_tilt_calls; }
bool with_dig(const Context& c) { return working(c) && c.has_dig; }
bool with_cable(const Context& c) { return working(c) && c.has_cable; }
bool with_undo(const Context& c) { return working(c) && c.can_undo; }
bool can_go_back(const Context& c) { return asked(c) || delete_question(c) || (in_exercise(c) && c.form_open); }
bool finish_question(const Context& c) { return in_exercise(c) && c.finish_asked; }
bool leave_question(const Context& c) { return in_exercise(c) && c.leave_asked && !c.finish_asked; }
bool field_allowed(const Context& c) { return working(c) && c.field_allowed; }
template <DebriefView View>
bool in_view(const Context& c) {
    return at_debrief(c) && c.view == View;
}
bool at_result(const Context& c) { return in_view<DebriefView::result>(c); }
bool at_replay(const Context& c) { return in_view<DebriefView::replay>(c); }
bool with_still_plan(const Context& c) { return with_plan(c) && !at_replay(c); } // its keys go through time there
bool at_coach(const Context& c) { return in_view<DebriefView::coach>(c) && c.has_findings; }
bool coach_asks(const Context& c) { return at_coach(c) && c.coach_asks; }
bool coach_moment(const Context& c) { return at_coach(c) && c.has_moment && !c.coach_asks; }
bool debrief_lesson(const Context& c) { return at_result(c) && c.has_lesson; }
bool at_lesson_result(const Context& c) { return c.page == Page::lesson_result; }
bool not_at_start(const Context& c) {
    return working(c) || at_debrief(c) || at_lesson_result(c) || at_people(c) || at_progress(c);
}
bool in_lesson(const Context& c) { return in_exercise(c) && c.in_lesson; }
bool lesson_passed(const Context& c) { return at_lesson_result(c) && c.lesson_passed && c.has_next_lesson; }
bool debrief_next(const Context& c) { return at_debrief(c) && c.has_next; }

constexpr Chord key(int k) { return {k, false}; }
constexpr Chord ctrl(int k) { return {k, true}; }

constexpr std::string_view hand = "The hand";
constexpr std::string_view hold = "Holding the receiver";
constexpr std::string_view note = "Marks and readings";
constexpr std::string_view paper = "Calls, dig box, papers";
constexpr std::string_view tilt = "The tilt worksheet";
constexpr std::string_view rods = "The cable hand";
constexpr std::string_view who = "People and progress";
constexpr std::string_view show = "The window";
constexpr std::string_view views = "The debrief";
constexpr std::string_view times = "The replay";
constexpr std::string_view ends = "Beginning and ending";

// clang-format off: one command a line, so that the table can be read as one
constexpr CommandInfo table[] = {
    // The hand
    {"hand_north", "Hand north", "W or Up", "Moves the hand up the sheet; you walk after it.", hand, {key(SDLK_w), key(SDLK_UP)}, true, working},
    {"hand_south", "Hand south", "S or Down", "Moves the hand down the sheet.", hand, {key(SDLK_s), key(SDLK_DOWN)}, true, working},
    {"hand_west", "Hand west", "A or Left", "Moves the hand to the left.", hand, {key(SDLK_a), key(SDLK_LEFT)}, true, working},
    {"hand_east", "Hand east", "D or Right", "Moves the hand to the right.", hand, {key(SDLK_d), key(SDLK_RIGHT)}, true, working},
    {"slow", "Slow hand", "hold Shift", "Everything the hand does goes at a tenth, for the last {centimetres|inches}.", hand, {key(SDLK_LSHIFT), key(SDLK_RSHIFT)}, true, working},
    {"hold_hand", "Keep hand", "Z", "Keeps the hand where it is, so that the pointer is free; again takes it up. A click on the plan does the same; near a mark, with the tip up, a click chooses the mark.", hand, {key(SDLK_z)}, false, working},
    // Holding the receiver
    {"toggle_height", "Lower", "Space", "Lowers the receiver's tip to the ground, or holds it out again to walk.", hold, {key(SDLK_SPACE)}, false, working},
    {"lift", "Lift {0.5 m}", "T", "Holds the tip {0.5 m} above the ground for the lift check: the depth must grow by as much. Again lowers it.", hold, {key(SDLK_t)}, false, working},
    {"turn_left", "Turn left", "Q", "Turns with the receiver to the left; the tip stays where it is.", hold, {key(SDLK_q)}, true, working},
    {"turn_right", "Turn right", "E", "Turns with the receiver to the right.", hold, {key(SDLK_e)}, true, working},
    {"half_round", "Half round", "H", "Walks half round the tip, for the second reading of a facing pair.", hold, {key(SDLK_h)}, false, working},
    {"quarter_round", "Quarter round", "G", "Walks a quarter round the tip, for a cross pair.", hold, {key(SDLK_g)}, false, working},
    {"lean_away", "Lean away", "I", "Leans the mast away from you.", hold, {key(SDLK_i)}, true, working},
    {"lean_back", "Lean back", "K", "Leans the mast toward you.", hold, {key(SDLK_k)}, true, working},
    {"lean_left", "Lean left", "J", "Leans the mast to the left.", hold, {key(SDLK_j)}, true, working},
    {"lean_right", "Lean right", "L", "Leans the mast to the right.", hold, {key(SDLK_l)}, true, working},
    {"plumb_mast", "Straighten", "hold X", "Straightens the mast as long as it is held: brings the dot into the ring.", hold, {key(SDLK_x)}, true, working},
    {"frequency_next", "Frequency", "F", "Sets the receiver to its next frequency.", hold, {key(SDLK_f)}, false, working},
    {"coil", "Turn coil", "V", "Turns the single coil level or upright.", hold, {key(SDLK_v)}, false, turns_coil},
    {"bandwidth", "Bandwidth", "U", "Narrow hears less noise and settles slowly, wide is quick and hears more.", hold, {key(SDLK_u)}, false, has_wide},
    // Marks and readings
    {"mark_plumb", "Plumb", "1", "Marks a plumb point at the tip.", note, {key(SDLK_1)}, false, working},
    {"mark_level", "Level", "2", "Marks the level line at the tip.", note, {key(SDLK_2)}, false, working},
    {"mark_peak", "Peak", "3", "Marks the peak at the tip.", note, {key(SDLK_3)}, false, working},
    {"mark_locate", "Locate", "4", "Marks the locate at the tip: the sonde lies under here. Again moves it.", note, {key(SDLK_4)}, false, working},
    {"read_depth", "Read", "R", "Takes a depth reading. It counts with the tip on the ground and the mast plumb.", note, {key(SDLK_r)}, false, reads_depth},
    {"delete_reading", "Delete reading", "Del", "Strikes out the last reading.", note, {key(SDLK_DELETE)}, false, with_readings},
    {"take_back", "Take back", "Backspace", "Takes the last mark back.", note, {key(SDLK_BACKSPACE)}, false, with_marks},
    {"select_mark", "Choose mark", "N", "Chooses one mark after the other, to be moved.", note, {key(SDLK_n)}, false, with_marks},
    {"move_mark", "Move mark", "B", "Moves the chosen mark to the tip.", note, {key(SDLK_b)}, false, with_selected},
    {"take_back_plumb", "Take plumb back", "Ctrl 1", "Takes the last plumb point back.", note, {ctrl(SDLK_1)}, false, with_marks},
    {"take_back_level", "Take level back", "Ctrl 2", "Takes the last level line back.", note, {ctrl(SDLK_2)}, false, with_marks},
    {"take_back_peak", "Take peak back", "Ctrl 3", "Takes the last peak back.", note, {ctrl(SDLK_3)}, false, with_marks},
    {"take_back_locate", "Take locate back", "Ctrl 4", "Takes the locate back.", note, {ctrl(SDLK_4)}, false, with_marks},
    {"undo", "Undo", "Ctrl Z", "Undoes the last change of marks, readings, calls or dig box.", note, {ctrl(SDLK_z)}, false, with_undo},
    // Calls, dig box, papers
    {"dig_box", "Dig box", "5", "White-lines the dig box round the tip, its length the way you face. Again moves it.", paper, {key(SDLK_5)}, false, working},
    {"call_depth", "Call depth", "6", "Calls the depth of the reading at the peak, else of the last that counts, and puts you into its number to change it. Enter goes on.", paper, {key(SDLK_6)}, false, working},
    {"call_tilt", "Call tilt", "7", "Calls the tilt: level, on end, tilted (the raised end the way you face; the number you are then in is by how much).", paper, {key(SDLK_7)}, false, working},
    {"raised_end", "Raised end", "8", "Says that the raised end points the way you face now, and puts you into its number.", paper, {key(SDLK_8)}, false, working},
    {"dig_method", "Dig by", "9", "Says how it is dug: hand, vacuum, machine. On a ticket that is not cleared nobody digs yet, whatever is said here.", paper, {key(SDLK_9)}, false, with_dig},
    {"edit_form", "Numbers", "0", "Opens the numbers of calls and dig box in the strip, the keyboard in the first; Tab goes from one to the next, Esc folds them.", paper, {key(SDLK_0)}, false, working},
    {"dig_to_pipe", "To pipe's top", "Y", "Sets the box's depth to the pipe's top, worked out from your depth call and the job sheet, and puts you into its number.", paper, {key(SDLK_y)}, false, with_dig},
    {"take_back_dig", "Take box back", "Ctrl 5", "Takes the dig box back.", paper, {ctrl(SDLK_5)}, false, with_dig},
    {"truck_check", "Check at truck", "C", "Before the push: sonde on the ground {2.0 m} from the tip; the receiver should read {2.0 m}.", paper, {key(SDLK_c)}, false, working},
    {"read_ticket", "Ticket read", "O", "Notes that you have read the one-call ticket and its answers.", paper, {key(SDLK_o)}, false, working},
    // The tilt worksheet
    {"worksheet", "Worksheet", "F10", "Shows or folds the tilt worksheet: tilt, place and depth worked out from the plumb points and the depth.", tilt, {key(SDLK_F10)}, false, in_exercise},
    {"worksheet_numbers", "Type numbers", "Ctrl F10", "Puts the keyboard into the worksheet's numbers; Tab goes from one to the next, Esc ends it.", tilt, {ctrl(SDLK_F10)}, false, in_exercise},
    {"worksheet_take", "Take as calls", "F11", "Calls the depth, the tilt and its raised end as the worksheet has them.", tilt, {key(SDLK_F11)}, false, with_tilt_calls},
    {"worksheet_fill", "Notebook's numbers", "Ctrl F11", "Forgets what was typed into the worksheet; the notebook's numbers count again.", tilt, {ctrl(SDLK_F11)}, false, in_exercise},
    {"worksheet_stronger", "Stronger", "F12", "Says which plumb point is the stronger by ear, where its signals are not known: A, B or not said.", tilt, {key(SDLK_F12)}, false, in_exercise},
    // The cable hand
    {"pull_back", "Pull back", "F6", "Asks the cable hand to pull back by the step; counter and sonde follow the pipe, the sonde once the slack is taken up.", rods, {key(SDLK_F6)}, false, with_cable},
    {"push_on", "Push on", "F7", "Asks the cable hand to push on by the step.", rods, {key(SDLK_F7)}, false, with_cable},
    {"cable_step", "Cable step", "F8", "How much the cable hand is asked for at a time: {0.1, 0.5, 1 or 3 m|6 in, 1, 3 or 9 ft}.", rods, {key(SDLK_F8)}, false, with_cable},
    // People and progress
    {"people", "People", "P", "Shows who practises on this machine, to choose one or to add one.", who, {key(SDLK_p)}, false, to_people},
    {"add_person", "Add a person", "N", "Asks for the name of somebody new.", who, {key(SDLK_n)}, false, at_people},
    {"progress", "Progress", "G", "Shows how errors went over time, what is weak, what to practise next, and every attempt.", who, {key(SDLK_g)}, false, to_progress},
    {"practise", "Practise the first", "X", "Begins the exercise that is due first.", who, {key(SDLK_x)}, false, at_progress},
    {"export_csv", "Export CSV", "E", "Writes all attempts into a new CSV file in the data folder.", who, {key(SDLK_e)}, false, with_person},
    {"delete_person", "Delete", "Del", "Deletes this person with all attempts; asks once and says what goes.", who, {key(SDLK_DELETE)}, false, with_person},
    {"delete_logs", "Logs too", "L", "Whether the work logs of the attempts are deleted too.", who, {key(SDLK_l)}, false, delete_question},
    {"confirm_delete", "Delete now", "Enter", "Deletes for good.", who, {key(SDLK_RETURN), key(SDLK_KP_ENTER)}, false, delete_question},
    // The window
    {"help", "Help", "F1", "Shows or folds this help sheet.", show, {key(SDLK_F1)}, false, always},
    {"steps", "Steps", "F9", "Shows or folds the steps of the lesson.", show, {key(SDLK_F9)}, false, in_lesson},
    {"sheet", "Sheet", "F2", "Shows or folds the job sheet.", show, {key(SDLK_F2)}, false, in_exercise},
    {"night", "Night", "F3", "Changes between day and night.", show, {key(SDLK_F3)}, false, always},
    {"settings", "Settings", "F4", "Shows or folds the settings.", show, {key(SDLK_F4)}, false, always},
    {"units", "Metres or feet", "Ctrl U", "Changes between metres and feet and inches, in everything that is shown; the work stays as it is.", show, {ctrl(SDLK_u)}, false, always},
    {"next_line", "Next line", "F5", "The NEXT line: fades with practice, always there, or off.", show, {key(SDLK_F5)}, false, always},
    {"volume_up", "Louder", "+", "Makes the tone louder.", show, {key(SDLK_PLUS), key(SDLK_EQUALS), key(SDLK_KP_PLUS)}, false, always},
    {"volume_down", "Softer", "-", "Makes the tone softer.", show, {key(SDLK_MINUS), key(SDLK_KP_MINUS)}, false, always},
    {"mute", "Mute", "M", "Switches the tone off or on.", show, {key(SDLK_m)}, false, always},
    {"scale_up", "Larger", "Ctrl +", "Makes writing and instruments larger.", show, {ctrl(SDLK_PLUS), ctrl(SDLK_EQUALS), ctrl(SDLK_KP_PLUS)}, false, always},
    {"scale_down", "Smaller", "Ctrl -", "Makes writing and instruments smaller.", show, {ctrl(SDLK_MINUS), ctrl(SDLK_KP_MINUS)}, false, always},
    {"zoom_in", "Zoom in", "PgUp or wheel", "Brings the plan nearer.", show, {key(SDLK_PAGEUP), key(SDLK_PERIOD)}, false, with_plan},
    {"zoom_out", "Zoom out", "PgDn or wheel", "Shows more of the plan.", show, {key(SDLK_PAGEDOWN), key(SDLK_COMMA)}, false, with_plan},
    {"pan_north", "Pan up", "Ctrl Up", "Moves the plan; so does dragging with the right button.", show, {ctrl(SDLK_UP)}, true, with_plan},
    {"pan_south", "Pan down", "Ctrl Down", "Moves the plan.", show, {ctrl(SDLK_DOWN)}, true, with_plan},
    {"pan_west", "Pan left", "Ctrl Left", "Moves the plan.", show, {ctrl(SDLK_LEFT)}, true, with_plan},
    {"pan_east", "Pan right", "Ctrl Right", "Moves the plan.", show, {ctrl(SDLK_RIGHT)}, true, with_plan},
    {"follow", "Follow", "Home", "Lets the view follow the operator again; in the debrief it shows what matters again.", show, {key(SDLK_HOME)}, false, with_still_plan},
    {"whole_yard", "Whole yard", "End", "Shows the whole yard.", show, {key(SDLK_END)}, false, with_still_plan},
    {"signal_map", "Signal map", "S", "Goes on from no map to how strong the signal really was all over the yard, with a line every 6 dB, then to the dip of the sonde's field, then back to none. The button says which is next.", show, {key(SDLK_s)}, false, at_debrief},
    {"lesson_map", "Field map", "Ctrl S", "In a lesson that shows the field: from no map to the true signal all over the yard, then to its dip, then back to none. The button says which is next.", show, {ctrl(SDLK_s)}, false, field_allowed},
    {"field_lines", "Field lines", "F", "Shows or hides the field's lines in the section, with the receiver's antennas over them.", show, {key(SDLK_f)}, false, at_result},
    {"scroll_down", "Scroll down", "Ctrl PgDn", "Moves the sheet at the left down.", show, {ctrl(SDLK_PAGEDOWN)}, true, always},
    {"scroll_up", "Scroll up", "Ctrl PgUp", "Moves the sheet at the left up.", show, {ctrl(SDLK_PAGEUP)}, true, always},
    // The debrief
    {"view_result", "Result", "1", "The debrief's first view: what the hole would have found, every error with its tolerance, the procedure.", views, {key(SDLK_1)}, false, at_debrief},
    {"view_coach", "Coach", "2", "What to do otherwise next time, with its evidence.", views, {key(SDLK_2)}, false, at_debrief},
    {"view_known", "What could be known", "3", "How near your readings could have led, and how that shrank as you worked.", views, {key(SDLK_3)}, false, at_debrief},
    {"view_replay", "Replay", "4", "The exercise once more, at any moment.", views, {key(SDLK_4)}, false, at_debrief},
    // The replay
    {"replay_play", "Play", "Space", "Lets the exercise run once more from here, tone included, or stops it.", times, {key(SDLK_SPACE)}, false, at_replay},
    {"replay_back", "Back 1 s", "Left", "Goes back a second; held, it goes on. So does dragging on the graph.", times, {key(SDLK_LEFT)}, false, at_replay},
    {"replay_on", "On 1 s", "Right", "Goes on a second.", times, {key(SDLK_RIGHT)}, false, at_replay},
    {"replay_far_back", "Back 30 s", "Down", "Goes back half a minute.", times, {key(SDLK_DOWN)}, false, at_replay},
    {"replay_far_on", "On 30 s", "Up", "Goes on half a minute.", times, {key(SDLK_UP)}, false, at_replay},
    {"replay_start", "To the start", "Home", "Goes to the start.", times, {key(SDLK_HOME)}, false, at_replay},
    {"replay_end", "To the end", "End", "Goes to the end.", times, {key(SDLK_END)}, false, at_replay},
    {"replay_before", "Before", "[ or J", "Goes back to the last mark, reading or other thing done before this moment; a click in the list or on the graph goes to any.", times, {key(SDLK_LEFTBRACKET), key(SDLK_j)}, false, at_replay},
    {"replay_after", "Next", "] or K", "Goes on to the next mark, reading or other thing done.", times, {key(SDLK_RIGHTBRACKET), key(SDLK_k)}, false, at_replay},
    {"replay_slower", "Slower", "Q", "Plays at half the speed: down to 0.5 times. The tone is that of the moment shown at any speed.", times, {key(SDLK_q)}, false, at_replay},
    {"replay_faster", "Faster", "E", "Plays at twice the speed: up to 8 times.", times, {key(SDLK_e)}, false, at_replay},
    {"replay_truth", "Show truth", "T", "Shows or hides on the plan what was under the ground.", times, {key(SDLK_t)}, false, at_replay},
    {"replay_colour", "Trail colour", "C", "Colours the trail by signal, by the speed of the tip, or not.", times, {key(SDLK_c)}, false, at_replay},
    {"replay_follow", "Follow", "F", "Lets the plan follow the receiver, or stand still.", times, {key(SDLK_f)}, false, at_replay},
    {"replay_whole", "All that was walked", "Y", "Shows all that was walked.", times, {key(SDLK_y)}, false, at_replay},
    // Beginning and ending
    {"confirm_finish", "Finish now", "Enter", "Ends the exercise and shows the debrief.", ends, {key(SDLK_RETURN), key(SDLK_KP_ENTER)}, false, finish_question},
    {"confirm_leave", "Leave", "Enter", "Leaves the exercise unfinished.", ends, {key(SDLK_RETURN), key(SDLK_KP_ENTER)}, false, leave_question},
    {"go_back", "Go back", "Esc", "Goes back to the work; folds the numbers.", ends, {key(SDLK_ESCAPE)}, false, can_go_back},
    {"finish", "Finish", "Enter", "Ends the exercise; asks once and says what is missing.", ends, {key(SDLK_RETURN), key(SDLK_KP_ENTER)}, false, working},
    {"pause", "Pause", "P", "Stops the clock of the exercise, or lets it go on.", ends, {key(SDLK_p)}, false, working},
    {"again_same", "Again, same yard", "A", "Works this yard once more.", ends, {key(SDLK_a)}, false, at_debrief},
    {"again_new", "Again, new yard", "N", "Works this exercise in another yard.", ends, {key(SDLK_n)}, false, at_debrief},
    {"next_exercise", "Next exercise", "X", "Goes on to the next exercise of the course.", ends, {key(SDLK_x)}, false, debrief_next},
    {"save_picture", "Save picture", "P", "Writes this page as a picture.", ends, {key(SDLK_p)}, false, at_debrief},
    {"reasons", "Reasons", "W", "Shows or hides why each point of the procedure matters.", ends, {key(SDLK_w)}, false, at_result},
    {"lesson", "In this yard", "L", "Shows what this yard teaches: what is different, how one can tell, what to do. Again goes back up.", ends, {key(SDLK_l)}, false, debrief_lesson},
    {"next_lesson", "Next lesson", "Enter", "Goes on to the next lesson of the course.", ends, {key(SDLK_RETURN), key(SDLK_KP_ENTER), key(SDLK_x)}, false, lesson_passed},
    {"lesson_test", "The test again", "T", "Takes the lesson's test in another yard. Enter does it as long as the lesson is not passed.", ends, {key(SDLK_t), key(SDLK_RETURN), key(SDLK_KP_ENTER)}, false, at_lesson_result},
    {"lesson_again", "The lesson again", "A", "Takes the lesson from its first step.", ends, {key(SDLK_a)}, false, at_lesson_result},
    {"lesson_debrief", "Debrief", "D", "Shows the truth of the yard just worked, and every error.", ends, {key(SDLK_d)}, false, at_lesson_result},
    {"show_lessons", "Lessons", "Left", "Shows the list of lessons: the course from the first day on.", ends, {key(SDLK_LEFT), key(SDLK_h)}, false, at_start},
    {"show_exercises", "Exercises", "Right", "Shows the list of exercises.", ends, {key(SDLK_RIGHT), key(SDLK_l)}, false, at_start},
    {"coach_up", "One up", "Up", "Chooses the answer or the finding above.", views, {key(SDLK_UP)}, false, at_coach},
    {"coach_down", "One down", "Down", "Chooses the answer or the finding below.", views, {key(SDLK_DOWN)}, false, at_coach},
    {"coach_answer", "Answer", "Enter", "Gives the chosen answer; after it, goes on to the next question or to the findings.", views, {key(SDLK_RETURN), key(SDLK_KP_ENTER)}, false, coach_asks},
    {"coach_skip", "Skip the questions", "K", "Leaves the coach's questions for its findings; from there, goes back to the questions.", views, {key(SDLK_k)}, false, at_coach},
    {"coach_moment", "Go to this moment", "G", "Shows the moment of the chosen finding in the replay.", views, {key(SDLK_g)}, false, coach_moment},
    {"row_up", "Row up", "Up", "Chooses the row above.", ends, {key(SDLK_UP), key(SDLK_k)}, false, with_rows},
    {"row_down", "Row down", "Down", "Chooses the row below.", ends, {key(SDLK_DOWN), key(SDLK_j)}, false, with_rows},
    {"open_row", "Begin", "Enter", "Begins the chosen lesson or exercise; takes the chosen person; opens the chosen attempt.", ends, {key(SDLK_RETURN), key(SDLK_KP_ENTER), key(SDLK_SPACE)}, false, with_rows},
    {"start_page", "All exercises", "Esc", "Goes to the lists of lessons and exercises, or from a lesson's debrief back to its result; asks before it leaves unfinished work.", ends, {key(SDLK_ESCAPE)}, false, not_at_start},
    {"quit", "Quit", "Ctrl Q", "Closes the program. What is worked so far is in the log.", ends, {ctrl(SDLK_q)}, false, always},
};
// clang-format on

} // namespace

CommandContext work_context(const field::Brief& brief, const field::ExerciseState& state) {
    const field::Notebook& n = state.notebook;
    CommandContext c;
    c.page = Page::exercise;
    c.has_dial = sim::shows_dial(brief.receiver_kind);
    c.reads_depth = sim::reads_depth(brief.receiver_kind);
    c.turns_coil = sim::turns_coil(brief.receiver_kind);
    c.has_wide = brief.has_wide;
    c.has_cable = brief.sheet.counter_m.has_value();
    c.has_marks = !n.marks.empty();
    c.has_readings = !n.readings.empty();
    c.has_dig = n.dig.has_value();
    c.can_undo = !state.undo.empty();
    return c;
}

std::string_view name_of(Page page) {
    switch (page) {
    case Page::start:
        return "start";
    case Page::exercise:
        return "exercise";
    case Page::debrief:
        return "debrief";
    case Page::lesson_result:
        return "lesson_result";
    case Page::people:
        return "people";
    case Page::progress:
        return "progress";
    }
    return "";
}

std::string_view name_of(DebriefView view) {
    switch (view) {
    case DebriefView::result:
        return "result";
    case DebriefView::coach:
        return "coach";
    case DebriefView::known:
        return "known";
    case DebriefView::replay:
        return "replay";
    }
    return "";
}

std::span<const CommandInfo> command_table() { return table; }

const CommandInfo* find_command(std::string_view id) {
    const auto* const found = std::ranges::find(table, id, &CommandInfo::id);
    return found == std::ranges::end(table) ? nullptr : found;
}

const CommandInfo* command_of(const Chord& chord, const CommandContext& context) {
    for (const CommandInfo& info : table) {
        if (std::ranges::find(info.chords, chord) != info.chords.end() && info.enabled(context)) {
            return &info;
        }
    }
    return nullptr;
}

bool enabled(std::string_view id, const CommandContext& context) {
    const CommandInfo* info = find_command(id);
    return info != nullptr && info->enabled(context);
}

std::string_view label_now(std::string_view id, const CommandContext& c) {
    if (id == "toggle_height" && c.tip_down) {
        return "Hold out";
    }
    if (id == "lift" && c.lifted) {
        return "Lower again";
    }
    if ((id == "signal_map" || id == "lesson_map") && !c.next_map.empty()) {
        return c.next_map;
    }
    if (id == "start_page" && c.in_lesson) {
        return at_debrief(c) ? "Back to the result" : "All lessons";
    }
    const CommandInfo* info = find_command(id);
    return info != nullptr ? info->label : std::string_view();
}

std::string key_and_label(std::string_view id, const CommandContext& context) {
    const CommandInfo* info = find_command(id);
    return info != nullptr && info->enabled(context) ? fmt::format("{}  {}", info->key_text, label_now(id, context))
                                                     : std::string();
}

float command_button_width(const Theme& theme, std::string_view id, std::string_view label) {
    const CommandInfo* info = find_command(id);
    if (info == nullptr) {
        return 0.0F;
    }
    const std::string text = in_units(theme, label.empty() ? info->label : label);
    return std::ceil(text_size(theme.text, text).x + text_size(theme.note, info->key_text).x + 1.5F * theme.h);
}

bool command_button(const Theme& theme, const CommandContext& context, std::string_view id, Requests& requests,
                    std::string_view label) {
    const CommandInfo* info = find_command(id);
    if (info == nullptr) {
        return false;
    }
    const bool on = info->enabled(context);
    label = label.empty() ? label_now(id, context) : label;
    const std::string text = in_units(theme, label);
    const ImVec2 size(command_button_width(theme, id, label), std::ceil(1.6F * theme.h));
    const ImVec2 at = ImGui::GetCursorScreenPos();
    ImGui::PushID(id.data(), id.data() + id.size());
    ImGui::BeginDisabled(!on);
    const bool pressed = ImGui::Button("##command", size);
    ImGui::EndDisabled();
    ImGui::PopID();
    // Label and key are drawn apart: the key in the smaller, quieter type, so that one learns it while using the mouse.
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const Palette& p = theme.palette;
    const float top = at.y + (size.y - theme.text->FontSize) / 2;
    draw_text(list, theme.text, ImVec2(at.x + 0.5F * theme.h, top), on ? p.ink : p.quiet, text);
    const float key_width = text_size(theme.note, info->key_text).x;
    draw_text(list, theme.note,
              ImVec2(at.x + size.x - key_width - 0.5F * theme.h, at.y + (size.y - theme.note->FontSize) / 2), p.quiet,
              info->key_text);
    if (ImGui::IsItemHovered(ImGuiHoveredFlags_AllowWhenDisabled)) {
        // Below the button as a rule; in the lower half of the window over it, where it hides nothing that is asked.
        const bool over = at.y > 0.5F * ImGui::GetIO().DisplaySize.y;
        ImGui::SetNextWindowPos(ImVec2(at.x, over ? at.y - 0.3F * theme.h : at.y + size.y + 0.3F * theme.h),
                                ImGuiCond_Always, ImVec2(0.0F, over ? 1.0F : 0.0F));
        ImGui::BeginTooltip();
        wrapped(in_units(theme, info->help), 22 * theme.h);
        ImGui::TextDisabled("Key: %.*s", static_cast<int>(info->key_text.size()), info->key_text.data());
        ImGui::EndTooltip();
    }
    if (pressed && on) {
        requests.commands.push_back(info->id);
    }
    return pressed && on;
}

void tab_button(const Theme& theme, const CommandContext& context, std::string_view id, bool chosen,
                Requests& requests) {
    command_button(theme, context, id, requests);
    if (chosen) {
        const ImVec2 low = ImGui::GetItemRectMin();
        const ImVec2 high = ImGui::GetItemRectMax();
        ImGui::GetWindowDrawList()->AddRectFilled(ImVec2(low.x, high.y - std::floor(0.2F * theme.h)), high,
                                                  theme.palette.survey);
    }
}

} // namespace sondeyard::ui
