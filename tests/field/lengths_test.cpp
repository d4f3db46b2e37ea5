// Lengths in words. The foot of 0.3048 m is that of the international agreement of 1959; the conversions below follow
// from it by hand.
#include "field/lengths.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

using namespace sondeyard::field;

TEST_CASE("Metres have two decimals and no minus before zero") {
    CHECK(length_text(1.5249, Units::metric) == "1.52 m");
    CHECK(length_text(0.0, Units::metric) == "0.00 m");
    CHECK(length_text(-0.004, Units::metric) == "0.00 m");
    CHECK(length_text(-0.1, Units::metric) == "-0.10 m");
}

TEST_CASE("Feet and inches go to the nearest quarter inch, and carry") {
    CHECK(length_text(1.524, Units::feet) == "5 ft 0 in");
    CHECK(length_text(0.298, Units::feet) == "11 3/4 in"); // 11.73 in
    CHECK(length_text(0.303, Units::feet) == "1 ft 0 in"); // 11.93 in: the next quarter is a whole foot
    CHECK(length_text(1.6, Units::feet) == "5 ft 3 in");   // 62.99 in
    CHECK(length_text(0.0127, Units::feet) == "1/2 in");
    CHECK(length_text(0.003, Units::feet) == "0 in"); // 0.118 in
    CHECK(length_text(0.0, Units::feet) == "0 in");
    CHECK(length_text(2.0, Units::feet) == "6 ft 6 3/4 in"); // 78.74 in
    CHECK(length_text(-0.3048, Units::feet) == "-1 ft 0 in");
    CHECK(length_text(-0.003, Units::feet) == "0 in");
}

TEST_CASE("Where there is no room feet are said in inches alone") {
    CHECK(narrow_text(0.8, Units::feet) == "31 1/2 in"); // 31.50 in
    CHECK(narrow_text(1.2, Units::feet) == "47 1/4 in"); // 47.24 in
    CHECK(narrow_text(0.3048, Units::feet) == "12 in");
    CHECK(narrow_text(0.0, Units::feet) == "0 in");
    CHECK(narrow_text(0.8, Units::metric) == "0.80 m");
    CHECK(narrow_text(std::nan(""), Units::feet) == "--");
}

TEST_CASE("What is no length is said to be none, and what is huge stays short") {
    for (const Units units : {Units::metric, Units::feet}) {
        CHECK(length_text(std::nan(""), units) == "--");
        CHECK(length_text(std::numeric_limits<double>::infinity(), units) == "--");
        CHECK(error_text(std::nan(""), units) == "--");
        CHECK(round_text(std::nan(""), units) == "--");
        CHECK(length_text(-std::numeric_limits<double>::max(), units).size() < 16);
    }
    CHECK(length_text(3.048e9, Units::feet) == "1e+10 ft");
    CHECK(length_text(1e6, Units::metric) == "1000000.00 m");
}

TEST_CASE("Errors are in centimetres or inches while they are small") {
    CHECK(error_text(0.18, Units::metric) == "18 cm");
    CHECK(error_text(0.1778, Units::feet) == "7 in");
    CHECK(error_text(0.994, Units::metric) == "99 cm");
    CHECK(error_text(0.996, Units::metric) == "1.00 m");
    CHECK(error_text(-0.05, Units::metric) == "-5 cm");
    CHECK(error_text(-0.001, Units::metric) == "0 cm");
    CHECK(error_text(0.36, Units::feet) == "1 ft 2 1/4 in"); // 14.17 in
}

TEST_CASE("A round figure shows as few decimals as it has") {
    CHECK(round_text(0.5, Units::metric) == "0.5 m");
    CHECK(round_text(3.0, Units::metric) == "3 m");
    CHECK(round_text(10.0, Units::metric) == "10 m");
    CHECK(round_text(0.25, Units::metric) == "0.25 m");
    CHECK(round_text(0.0, Units::metric) == "0 m");
    CHECK(round_text(0.3048, Units::feet) == "1 ft 0 in");
}

TEST_CASE("Lengths in braces are put into the reader's units") {
    CHECK(in_units("Lift {0.5 m}, stay within {18 cm}.", Units::metric) == "Lift 0.5 m, stay within 18 cm.");
    CHECK(in_units("Lift {0.5 m}, stay within {18 cm}.", Units::feet) == "Lift 1 ft 7 3/4 in, stay within 7 in.");
    CHECK(in_units("deeper than {1.5 m|5 ft}", Units::metric) == "deeper than 1.5 m");
    CHECK(in_units("deeper than {1.5 m|5 ft}", Units::feet) == "deeper than 5 ft");
    CHECK(in_units("{half a metre|20 in} more", Units::metric) == "half a metre more");
    CHECK(in_units("{half a metre|20 in} more", Units::feet) == "20 in more");
    CHECK(in_units(either(1.524), Units::metric) == "1.52 m");
    CHECK(in_units("at " + either(1.524) + ".", Units::feet) == "at 5 ft 0 in.");
    CHECK(in_units(either("1.524 m", 1.524), Units::metric) == "1.524 m");
    CHECK(in_units(either(std::nan("")), Units::feet) == "--");
    for (const Units units : {Units::metric, Units::feet}) {
        CHECK(in_units("{nothing} {} {0.5 m", units) == "{nothing} {} {0.5 m");
        CHECK(in_units("} a {{1 deg}}", units) == "} a {{1 deg}}");
        CHECK(in_units("", units).empty());
    }
}

TEST_CASE("Typed lengths are read in either system") {
    const auto near = [](std::optional<double> found, double expected_m) {
        return found.has_value() && std::abs(*found - expected_m) < 1e-12;
    };
    CHECK(near(parse_length("1.6 m"), 1.6));
    CHECK(near(parse_length("160cm"), 1.6));
    CHECK(near(parse_length(" 12 mm "), 0.012));
    CHECK(near(parse_length("5ft 3in"), 1.6002));
    CHECK(near(parse_length("5 ft 3 in"), 1.6002));
    CHECK(near(parse_length("5' 3 1/2\""), 1.6129));
    CHECK(near(parse_length("5'3-1/2\""), 1.6129));
    CHECK(near(parse_length("5\u2032 3\u2033"), 1.6002));
    CHECK(near(parse_length("63 in"), 1.6002));
    CHECK(near(parse_length("3/4 in"), 0.01905));
    CHECK(near(parse_length("5.25 feet"), 1.6002));
    CHECK(near(parse_length("-1 ft 6 in"), -0.4572));
    CHECK(near(parse_length("1.6"), 1.6));
    CHECK(near(parse_length("5.25", Units::feet), 1.6002));
    CHECK(near(parse_length(".5 m", Units::feet), 0.5));
    CHECK(near(parse_length("0 m"), 0.0));
}

TEST_CASE("What is no length is refused whole") {
    for (const char* text :
         {"",          "  ",           "m",      "deep",  "1.6 miles", "1,6 m",   "1.6 m 2", "5 ft 3",
          "5 ft 3 ft", "5 m 3 in",     "1..6 m", "nan",   "inf",       "1e400 m", "1/0 in",  "1/ in",
          "--1 m",     "5' 3 1/2\" x", ".",      "1 2 m", "3 in 5 ft", "0x10 m",  "5' -3\""}) {
        CAPTURE(text);
        CHECK(!parse_length(text).has_value());
    }
    CHECK(!parse_length(std::string(400, '9')).has_value()); // beyond every number
}

TEST_CASE("What is written is read again") {
    for (int quarters = -400; quarters <= 400; ++quarters) {
        const double length_m = quarters * metres_per_inch / 4.0;
        const std::optional<double> again = parse_length(length_text(length_m, Units::feet));
        CAPTURE(quarters);
        REQUIRE(again.has_value());
        CHECK(std::abs(*again - length_m) < 1e-12);
    }
}

TEST_CASE("Units have names that are read again") {
    CHECK(units_named("metric") == Units::metric);
    CHECK(units_named(name_of(Units::feet)) == Units::feet);
    CHECK(!units_named("Feet").has_value());
}
