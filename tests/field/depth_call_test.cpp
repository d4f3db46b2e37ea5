// What the readings offer for the depth call.
#include "field/depth_call.hpp"

#include <doctest/doctest.h>

using namespace sondeyard::field;

namespace {

Reading reading(int id, double depth_m, glm::dvec2 place_m, bool counts = true) {
    Reading r;
    r.id = id;
    r.depth_m = depth_m;
    r.place_m = place_m;
    r.counts = counts;
    return r;
}

Mark peak_at(glm::dvec2 place_m) {
    Mark m;
    m.kind = MarkKind::peak;
    m.place_m = place_m;
    return m;
}

} // namespace

TEST_CASE("the reading nearest to the peak is offered, not the last one") {
    Notebook n;
    n.readings = {reading(1, 2.10, {5.0, 3.0}), reading(2, 1.84, {5.0, 5.1}), reading(3, 2.40, {5.0, 7.0})};
    CHECK(depth_offer(n).depth_m == 2.40);
    CHECK(depth_offer(n).words == "reading 3, the last that counts");
    n.marks = {peak_at({5.0, 5.0})};
    CHECK(depth_offer(n).depth_m == 1.84);
    CHECK(depth_offer(n).words == "reading 2, at the peak");
    n.readings[1].counts = false;
    CHECK(depth_offer(n).depth_m == 2.40); // at equal distance the later
    CHECK(depth_offer(n).words == "reading 3, {2.00 m|6 ft 6 3/4 in} from the peak");
}

TEST_CASE("a facing pair is offered as its mean, and only while both count") {
    Notebook n;
    n.marks = {peak_at({5.0, 5.0})};
    n.readings = {reading(1, 1.80, {5.0, 5.0}), reading(2, 1.87, {5.0, 5.02})};
    n.readings[1].facing_reading_of = 1;
    CHECK(depth_offer(n).depth_m == doctest::Approx(1.84)); // of 1.835, to a centimetre
    CHECK(depth_offer(n).words == "readings 1 and 2, at the peak");
    n.readings[0].counts = false;
    CHECK(depth_offer(n).depth_m == 1.87);
    CHECK(depth_offer(n).words == "reading 2, at the peak");
}

TEST_CASE("a peak marked while the cable stood elsewhere says nothing about a reading") {
    Notebook n;
    n.marks = {peak_at({5.0, 5.0})};
    n.marks[0].counter_m = 12.0;
    n.readings = {reading(1, 1.80, {5.0, 5.0}), reading(2, 1.20, {9.0, 5.0})};
    n.readings[0].counter_m = n.readings[1].counter_m = 10.0;
    CHECK(depth_offer(n).depth_m == 1.20);
    CHECK(depth_offer(n).words == "reading 2, the last that counts");
}

TEST_CASE("without a reading that counts nothing is offered, and why is said") {
    Notebook n;
    CHECK_FALSE(depth_offer(n).depth_m);
    CHECK(depth_offer(n).words == "no reading yet");
    n.readings = {reading(1, 1.80, {5.0, 5.0}, false)};
    n.readings[0].lean_deg = 8.2;
    CHECK_FALSE(depth_offer(n).depth_m);
    CHECK(depth_offer(n).words == "no reading that counts: the mast leaned 8 deg");
    n.readings[0].tip_height_m = 0.5;
    CHECK(depth_offer(n).words == "no reading that counts: the tip was {0.50 m|1 ft 7 3/4 in} up");
    n.readings[0].depth_m.reset();
    CHECK(depth_offer(n).words == "no reading that counts: the last was too weak to read");
}
