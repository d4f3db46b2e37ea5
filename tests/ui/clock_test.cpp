#include "ui/window/clock.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

using sondeyard::ui::StepClock;

TEST_CASE("The clock gives sixty ticks a second at any frame rate") {
    for (const double frame_s : {1.0 / 144.0, 1.0 / 60.0, 1.0 / 40.0, 1.0 / 24.0, 0.1}) {
        CAPTURE(frame_s);
        StepClock clock;
        int ticks = 0;
        const int frames = static_cast<int>(std::lround(10.0 / frame_s));
        for (int i = 0; i < frames; ++i) {
            ticks += clock.advance(frame_s);
        }
        CHECK(std::abs(ticks - 600) <= 1);
    }
}

TEST_CASE("A late frame is caught up within the budget of a frame") {
    StepClock clock;
    CHECK(clock.advance(0.4) == StepClock::most_ticks_a_frame);
    CHECK(clock.advance(1.0 / 60.0) == StepClock::most_ticks_a_frame);
    CHECK(clock.advance(1.0 / 60.0) == 2); // 24 ticks were owed for 0.4 s and two more since
}

TEST_CASE("What is more than half a second late is given up") {
    StepClock clock;
    CHECK(clock.advance(30.0) == StepClock::most_ticks_a_frame);
    CHECK(clock.advance(1.0 / 60.0) == 1);
}

TEST_CASE("A pause is not owed afterwards") {
    StepClock clock;
    clock.pause();
    CHECK(clock.advance(5.0) == 0);
    clock.go_on();
    CHECK(clock.advance(0.0) == 0);
    CHECK(clock.advance(1.0 / 60.0) == 1);
}

TEST_CASE("Time that is no time gives no tick") {
    StepClock clock;
    CHECK(clock.advance(-1.0) == 0);
    CHECK(clock.advance(std::numeric_limits<double>::quiet_NaN()) == 0);
    CHECK(clock.advance(std::numeric_limits<double>::infinity()) == 0);
    CHECK(clock.advance(1.0 / 60.0) == 1); // and owes none
}
