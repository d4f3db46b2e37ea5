#include "plan_fixture.hpp"
#include "ui/window/debrief_page.hpp"
#include "ui/window/drafting.hpp"

#include <algorithm>
#include <array>

using namespace sondeyard;
using namespace sondeyard::ui;

namespace {

double triangles_area(const test::Frame& frame) {
    double area = 0.0;
    for (std::size_t i = 0; i + 2 < frame.indices.size(); i += 3) {
        const ImVec2 a = frame.vertices[frame.indices[i]].pos;
        const ImVec2 b = frame.vertices[frame.indices[i + 1]].pos;
        const ImVec2 c = frame.vertices[frame.indices[i + 2]].pos;
        area += 0.5 * std::abs((b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x));
    }
    return area;
}

} // namespace

TEST_CASE("the fill of a polygon that is not convex covers its own area and no more") {
    std::vector<ImVec2> house = {{100, 100}, {300, 100}, {300, 180}, {200, 180}, {200, 300}, {100, 300}};
    const double own = 200.0 * 80.0 + 100.0 * 120.0;
    for (int turn = 0; turn < 2; ++turn) {
        test::Frame frame;
        frame.draw([&](ImDrawList& list) { fill_polygon(list, house, IM_COL32_WHITE); });
        CHECK(frame.indices.size() == 3 * (house.size() - 2));
        CHECK(triangles_area(frame) == doctest::Approx(own));
        std::reverse(house.begin(), house.end());
    }
    const std::vector<ImVec2> comb = {{0, 0},   {90, 0},  {90, 60}, {70, 60}, {70, 20}, {55, 20},
                                      {55, 60}, {35, 60}, {35, 20}, {20, 20}, {20, 60}, {0, 60}};
    test::Frame frame;
    frame.draw([&](ImDrawList& list) { fill_polygon(list, comb, IM_COL32_WHITE); });
    CHECK(triangles_area(frame) == doctest::Approx(90.0 * 20.0 + 3 * 20.0 * 40.0));
}

TEST_CASE("labels never overlap and stay on the sheet") {
    const Box sheet{{0, 0}, {300, 200}};
    LabelBoard board(sheet);
    std::vector<Box> placed;
    for (int k = 0; k < 60; ++k) {
        const ImVec2 thing{static_cast<float>((k * 53) % 300), static_cast<float>((k * 31) % 200)};
        const ImVec2 size{60, 14};
        if (const auto at = board.place_beside(thing, {4, 4}, size, 3.0F)) {
            const Box box{*at, *at + size};
            CHECK(sheet.holds(box));
            for (const Box& other : placed) {
                CHECK_FALSE(box.overlaps(other));
            }
            placed.push_back(box);
        }
    }
    CHECK(placed.size() > 10);
}

TEST_CASE("two labels in a line keep a gap, so that they are not read as one") {
    LabelBoard board({{0, 0}, {400, 100}});
    const ImVec2 size{60, 14};
    REQUIRE(board.place(size, std::array{ImVec2{100, 40}}));
    CHECK_FALSE(board.place(size, std::array{ImVec2{164, 40}}));
    CHECK(board.place(size, std::array{ImVec2{175, 40}}));
    CHECK(board.place(size, std::array{ImVec2{100, 57}})); // below it may stand close
}

TEST_CASE("what stands at a house's wall is named outside of it while there is room") {
    const ImVec2 size{60, 14};
    const std::vector<ImVec2> house = {{200, 50}, {300, 50}, {300, 150}, {200, 150}};
    LabelBoard board({{0, 0}, {400, 200}});
    board.add_building(house);
    CHECK(board.in_building({250, 100}));
    CHECK_FALSE(board.in_building({150, 100}));
    const auto at = board.place_beside({200, 100}, {4, 4}, size, 3.0F);
    REQUIRE(at);
    CHECK(at->x + size.x < 200.0F);
    LabelBoard narrow({{195, 0}, {400, 200}}); // no room to the left
    narrow.add_building(house);
    CHECK(narrow.place_beside({200, 100}, {4, 4}, size, 3.0F));
}

TEST_CASE("text is broken at blanks only, never inside a figure") {
    test::Frame frame;
    const std::string_view words = "Your hole would have stopped 0.16 m above the pipe, at 1.40 m of 1.56 m.";
    for (int step = 0; step < 98; ++step) {
        const float width = 20.0F + 7.0F * static_cast<float>(step);
        std::string joined;
        for (const std::string_view line : wrapped(frame.theme.text, words, width)) {
            const bool fits = text_size(frame.theme.text, line).x <= width || line.find(' ') == std::string_view::npos;
            CHECK(fits);
            joined += (joined.empty() ? "" : " ") + std::string(line);
        }
        CHECK(joined == words);
    }
    CHECK(wrapped(frame.theme.text, "", 100.0F).empty());
    CHECK(wrapped(frame.theme.text, "one\ntwo", 1000.0F).size() == 2);
}

TEST_CASE("dashes of a line that reaches far outside are drawn only on the sheet") {
    test::Frame frame;
    const Box sheet{{0, 0}, {800, 600}};
    frame.draw([&](ImDrawList& list) {
        draw_dashes(list, {-1.0e6F, 300.0F}, {1.0e6F, 300.0F}, IM_COL32_BLACK, 2.0F, 10.0F, 10.0F, sheet);
    });
    CHECK(frame.vertices.size() > 100);
    CHECK(frame.vertices.size() < 1000);
}

TEST_CASE("the debrief fits its area in a small window and at a large scale, and its buttons stay in it") {
    const field::Setting setting(test::yard_with_drain());
    field::ExerciseState state = field::start(setting);
    state.notebook = test::worked_notebook();
    const field::Score score = field::score(setting, state);
    const field::Debrief debrief = field::debrief(setting, state, score);
    const Settings settings;
    CommandContext context;
    context.page = Page::debrief;
    for (const float h : {16.0F, 24.0F}) {
        for (const ImVec2 size : {ImVec2{1366, 700}, ImVec2{1024, 620}}) {
            for (const bool reasons : {false, true}) {
                test::Frame frame(size, h);
                DebriefState page;
                page.reasons = reasons;
                page.message = "Picture: /home/anna/debrief.png";
                Requests requests;
                float end = 0.0F;
                for (int k = 0; k < 3; ++k) {
                    frame.draw([&](ImDrawList&) {
                        debrief_page({frame.theme, context, page, setting, state, score, debrief, settings, requests},
                                     size);
                        end = ImGui::GetItemRectMax().y;
                    });
                }
                CHECK(end <= size.y);
                CHECK(end > size.y - 3.0F * h);
                CHECK(requests.commands.empty());
                CHECK(page.view_placed);
                CHECK(frame.all_finite());
            }
        }
    }
}
