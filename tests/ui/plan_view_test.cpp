#include "plan_fixture.hpp"
#include "ui/window/drafting.hpp"

#include <glm/geometric.hpp>

#include <charconv>
#include <cmath>

using namespace sondeyard;
using namespace sondeyard::ui;

namespace {

PlanView some_view() {
    PlanView view;
    view.origin = {120, 40};
    view.size = {700, 500};
    view.centre_m = {14.2, 9.7};
    view.px_per_m = 23.0;
    return view;
}

} // namespace

TEST_CASE("a place in the yard goes to the screen and back") {
    const PlanView view = some_view();
    for (const glm::dvec2 place : {glm::dvec2{0, 0}, glm::dvec2{14.2, 9.7}, glm::dvec2{31.7, 22.25}}) {
        // A screen place is single precision: at 1000 pixels that is 1e-4 of a pixel, here 5 micrometres.
        CHECK(glm::distance(view.to_yard(view.to_screen(place)), place) < 1e-5);
    }
}

TEST_CASE("north is up, east is to the right, and the centre is in the middle of the sheet") {
    const PlanView view = some_view();
    const ImVec2 middle = view.to_screen(view.centre_m);
    CHECK(middle.x == doctest::Approx(120 + 350));
    CHECK(middle.y == doctest::Approx(40 + 250));
    CHECK(view.to_screen(view.centre_m + glm::dvec2{0, 1}).y == doctest::Approx(middle.y - 23));
    CHECK(view.to_screen(view.centre_m + glm::dvec2{1, 0}).x == doctest::Approx(middle.x + 23));
}

TEST_CASE("zooming keeps the place under the pointer, at the ends of the range too") {
    for (const ImVec2 pointer : {ImVec2{120, 40}, ImVec2{333, 471}, ImVec2{819, 539}}) {
        for (const double factor : {0.01, 0.5, 1.0, 1.2, 3.0, 100.0}) {
            PlanView view = some_view();
            const glm::dvec2 before = view.to_yard(pointer);
            view.zoom_about(pointer, factor);
            CHECK(glm::distance(view.to_yard(pointer), before) < 1e-9);
        }
    }
}

TEST_CASE("zooming stops at 4 and at 100 pixels a metre") {
    PlanView view = some_view();
    view.zoom_about({400, 300}, 1000.0);
    CHECK(view.px_per_m == doctest::Approx(100.0));
    view.zoom_about({400, 300}, 1e-6);
    CHECK(view.px_per_m == doctest::Approx(4.0));
}

TEST_CASE("fitting shows the whole rectangle with a margin, and no more room than it needs") {
    for (const ImVec2 size : {ImVec2{700, 500}, ImVec2{300, 600}, ImVec2{120, 90}}) {
        for (const glm::dvec2 yard : {glm::dvec2{60, 60}, glm::dvec2{20, 60}, glm::dvec2{45, 22}, glm::dvec2{8, 8}}) {
            PlanView view;
            view.origin = {50, 20};
            view.size = size;
            const glm::dvec2 low{3, -2};
            view.fit(low, low + yard);
            const ImVec2 lower_left = view.to_screen(low);
            const ImVec2 upper_right = view.to_screen(low + yard);
            CHECK(lower_left.x > view.origin.x);
            CHECK(upper_right.y > view.origin.y);
            CHECK(upper_right.x < view.origin.x + size.x);
            CHECK(lower_left.y < view.origin.y + size.y);
            const double share =
                std::max((upper_right.x - lower_left.x) / size.x, (lower_left.y - upper_right.y) / size.y);
            const bool uses_its_room = share > 0.8 || view.px_per_m == doctest::Approx(100.0);
            CHECK(uses_its_room);
        }
    }
}

TEST_CASE("the scale bar is as long as its label says") {
    for (int step = 0; step < 48; ++step) {
        const double px_per_m = 4.0 * std::pow(1.07, step); // to 96
        const ScaleBar bar = scale_bar(px_per_m, 180.0F);
        double figure = 0.0;
        const auto read = std::from_chars(bar.label.data(), bar.label.data() + bar.label.size(), figure);
        REQUIRE(read.ec == std::errc());
        const std::string unit(read.ptr, bar.label.data() + bar.label.size());
        CAPTURE(bar.label);
        REQUIRE((unit == " m" || unit == " cm"));
        const double metres = unit == " m" ? figure : figure / 100.0;
        CHECK(bar.px == doctest::Approx(metres * px_per_m));
        CHECK(bar.px <= 180.0F);
        CHECK(bar.px * 2.5F > 180.0F); // the next step of 1, 2, 5 would not fit
    }
}

TEST_CASE("the scale bar is drawn at that length") {
    test::Frame frame({800, 600});
    PlanView view;
    view.size = {800, 600};
    view.centre_m = {500, 500}; // only the sheet's furniture is in sight
    view.px_per_m = 37.0;
    field::Brief brief;
    brief.width_m = 20;
    brief.length_m = 20;
    frame.draw([&](ImDrawList& list) { draw_plan(list, frame.theme, view, {.brief = &brief}); });
    const ImVec2 white = ImGui::GetFontTexUvWhitePixel();
    float low = 1e9F;
    float high = -1e9F;
    for (const ImDrawVert& v : frame.vertices) { // filled ink, so no letters; lower half, so not the north arrow
        const bool plain = v.uv.x == white.x && v.uv.y == white.y;
        if (v.col == frame.theme.palette.ink && plain && v.pos.y > 300.0F) {
            low = std::min(low, v.pos.x);
            high = std::max(high, v.pos.x);
        }
    }
    const ScaleBar bar = scale_bar(37.0, std::min(11.0F * 16.0F, 240.0F));
    CHECK(high - low == doctest::Approx(bar.metres * 37.0).epsilon(1e-4));
}

TEST_CASE("a mark's radius is true from 2 cm a pixel on, and readable before") {
    PlanView view = some_view();
    view.px_per_m = 80.0;
    CHECK(mark_radius_px(view, 16.0F) == doctest::Approx(mark_radius_m * 80.0));
    CHECK(mark_radius_px(view, 40.0F) == doctest::Approx(mark_radius_m * 80.0));
    view.px_per_m = 6.0;
    CHECK(mark_radius_px(view, 16.0F) >= 6.0F);
}

TEST_CASE("the level line's bar turns with its heading") {
    for (const float heading : {0.0F, 90.0F}) {
        test::Frame frame;
        frame.draw([&](ImDrawList& list) {
            draw_mark_symbol(list, frame.theme, {400, 300}, 20.0F, field::MarkKind::level, heading);
        });
        float wide = 0.0F;
        float tall = 0.0F;
        for (const ImDrawVert& v : frame.vertices) {
            wide = std::max(wide, std::abs(v.pos.x - 400.0F));
            tall = std::max(tall, std::abs(v.pos.y - 300.0F));
        }
        const bool lies_along_its_heading = heading == 0.0F ? tall > 2.0F * wide : wide > 2.0F * tall;
        CHECK(lies_along_its_heading);
    }
}

TEST_CASE("each kind of line has a letter of its own, so that colour is not needed") {
    std::string letters;
    for (const auto kind : {field::LineKind::electric, field::LineKind::gas, field::LineKind::communication,
                            field::LineKind::water, field::LineKind::reclaimed_water, field::LineKind::sewer}) {
        CHECK(letters.find(line_letter(kind)) == std::string::npos);
        letters += line_letter(kind);
    }
}
