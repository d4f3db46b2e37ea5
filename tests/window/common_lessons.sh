# Two lessons, each with its steps and its test, in words that a hand of either kind can do. Source it behind common.sh.
# Whoever does so brings four functions: `press ID` (a command of the table, once), `uncover ID` (its button on the sheet
# at the left comes into sight), `hand_at X Y [TOLERANCE]` (the tip to a place of the yard) and `choose_lesson N` (from the
# start page, counted from 0).

steps_at_least() { last lesson | awk -v n="$1" '{exit !($5 >= n)}'; }

mark() { # ID COUNT
    press "$1"
    wait_for traced "marks=$2"
}
lower() {
    press toggle_height
    wait_for tip_at_height 0
}
end_test() { # passed, and its result on the screen
    press finish
    wait_for traced "question finish"
    press confirm_finish
    wait_for traced "page lesson_result"
    wait_for in_sight "button lesson_debrief" # it is drawn
    expect "a passed lesson" [ "$(last "lesson result")" = "lesson result passed" ]
}

# Both plumb points and the level line over a level sonde.
work_the_field() {
    hand_at $(at 0.6) 0.3
    lower
    hand_at $(at 0.72) 0.08
    wait_for dip_over 75 # his lean takes a few degrees
    mark mark_plumb 1
    hand_at $(at -0.72) 0.08
    wait_for dip_over 75 # his lean takes a few degrees
    mark mark_plumb 2
    hand_at $(at 0) 0.08
    wait_for dip_under 12 # his lean makes a few degrees of it
    mark mark_level 3
}

# The frequency found at the truck, the walk, the locate.
find_frequency() {
    press sheet
    check_at_truck
    while ! traced "frequency=$sends"; do
        before=$(last frequency)
        press frequency_next
        wait_for frequency_changed "$before"
        check_at_truck
    done
}
check_at_truck() {
    uncover truck_check
    press truck_check
}
frequency_changed() { [ "$(last frequency)" != "$1" ]; }
walk_and_locate() {
    hand_at $(at 0) 0.25
    lower
    mark mark_locate 1
}

take_two_lessons() { # NAME of the pictures
    choose_lesson 0
    wait_for traced "lesson the-field guided step 0 seed 3"
    yard level-lawn 3
    work_the_field
    wait_for steps_at_least 7
    picture "$1-steps-done"
    wait_for traced "lesson the-field test step 7 seed 11"
    yard level-lawn 11
    work_the_field
    end_test
    picture "$1-passed"
    press start_page
    wait_for traced "page start"
    choose_lesson 14
    wait_for traced "lesson which-frequency guided step 0 seed 16"
    yard wrong-frequency 16
    find_frequency
    wait_for steps_at_least 3
    picture "$1-truck"
    walk_and_locate
    wait_for steps_at_least 5
    wait_for traced "lesson which-frequency test step 5 seed 32"
    yard wrong-frequency 32
    find_frequency
    walk_and_locate
    end_test
    picture "$1-passed-too"
    press next_lesson
    wait_for traced "lesson two-sondes guided step 0 seed 17"
    press start_page
    wait_for traced "page start"
    wait_for grep -q '^list lessons' "$trace"
    sleep 0.3 # drawn
    picture "$1-list"
    program_stop
    for lesson in the-field which-frequency; do
        expect "the result of $lesson is kept" grep -q "lesson:$lesson" "$XDG_DATA_HOME/sondeyard/progress.db"
    done
}
