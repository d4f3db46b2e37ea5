// Other people's lines in generated yards: where they run, what is painted, and what the ticket says of them.
#include "generator_support.hpp"

#include <doctest/doctest.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

using namespace sondeyard;
using scenarios::Wanted;
using scenarios::test::Drawn;
using scenarios::test::yards;

namespace {

// Smallest distance between two lines in space, sampled along the first.
double least_distance_m(const std::vector<glm::dvec3>& line, const field::Run& other) {
    double least = 1e9;
    for (std::size_t i = 1; i < line.size(); ++i) {
        const int steps = static_cast<int>(glm::distance(line[i - 1], line[i]) / 0.05) + 1;
        for (int k = 0; k <= steps; ++k) {
            const glm::dvec3 p = line[i - 1] + (line[i] - line[i - 1]) * (static_cast<double>(k) / steps);
            least = std::min(least, field::project(other, p).distance_m);
        }
    }
    return least;
}

bool is_main(const field::BuriedLine& line) { return line.kind == field::LineKind::sewer && !line.is_private; }

} // namespace

TEST_CASE("as many lines are buried as are wanted, at ordinary depths") {
    for (const Drawn& yard : yards()) {
        INFO(yard.what);
        const auto& lines = yard.world.yard.lines;
        const std::size_t drains = yard.wanted.second_drain ? 1 : 0;
        if (yard.wanted.line_count >= 0) {
            REQUIRE(lines.size() == static_cast<std::size_t>(yard.wanted.line_count) + drains);
        } else {
            REQUIRE(lines.size() >= 2 + drains);
            REQUIRE(lines.size() <= 5 + drains);
        }
        for (const field::BuriedLine& line : lines) {
            REQUIRE(line.points_m.size() >= 2);
            if (line.kind != field::LineKind::sewer) {
                REQUIRE(-line.points_m.front().z >= 0.45 - 1e-9);
                REQUIRE(-line.points_m.front().z <= 1.20 + 1e-9);
                REQUIRE(line.width_m >= 0.02);
                REQUIRE(line.width_m <= 0.10);
            }
        }
    }
    for (int count = 0; count <= 8; ++count) {
        Wanted wanted;
        wanted.seed = 5;
        wanted.line_count = count;
        CHECK(scenarios::generate(wanted).yard.lines.size() == static_cast<std::size_t>(count));
    }
}

TEST_CASE("every line but the main keeps 0.15 m clear of the drain, wall to wall") {
    for (const Drawn& yard : yards()) {
        if (!yard.world.run) {
            continue;
        }
        const field::Run& run = *yard.world.run;
        for (const field::BuriedLine& line : yard.world.yard.lines) {
            if (!is_main(line)) {
                const double clear = least_distance_m(line.points_m, run) - 0.5 * line.width_m -
                                     0.5 * run.inside_diameter_m - run.wall_m;
                INFO(yard.what);
                REQUIRE(clear >= 0.15 - 0.01);
            }
        }
    }
}

TEST_CASE("with a bare sonde nothing is buried within 3 m of it") {
    for (const Drawn& yard : yards()) {
        if (yard.wanted.shape != scenarios::RunShape::none) {
            continue;
        }
        INFO(yard.what);
        for (const field::BuriedLine& line : yard.world.yard.lines) {
            REQUIRE(field::distance_to_line_m(field::plan(yard.world.sonde.position_m), field::plan(line.points_m)) >=
                    3.0);
        }
    }
}

TEST_CASE("a second drain lies 2 to 4 m from the sonde, unmarked") {
    for (const Drawn& yard : yards()) {
        if (!yard.wanted.second_drain) {
            continue;
        }
        INFO(yard.what);
        const auto second = std::ranges::find_if(yard.world.yard.lines, [](const field::BuriedLine& line) {
            return line.kind == field::LineKind::sewer && line.owner.empty();
        });
        REQUIRE(second != yard.world.yard.lines.end());
        const double off =
            field::distance_to_line_m(field::plan(yard.world.sonde.position_m), field::plan(second->points_m));
        REQUIRE(off >= 2.0);
        REQUIRE(off <= 4.0);
        REQUIRE(second->paint_m.empty());
        for (std::size_t i = 1; i < second->points_m.size(); ++i) {
            REQUIRE(second->points_m[i].z <= second->points_m[i - 1].z);
        }
    }
}

TEST_CASE("paint lies inside the tolerance zone of its line, and not quite on it") {
    double square_sum = 0.0;
    double count = 0.0;
    for (const Drawn& yard : yards()) {
        INFO(yard.what);
        for (const field::BuriedLine& line : yard.world.yard.lines) {
            const std::vector<glm::dvec2> truth = field::plan(line.points_m);
            for (std::size_t i = 1; i < line.paint_m.size(); ++i) {
                for (int k = 0; k <= 10; ++k) {
                    const glm::dvec2 p = line.paint_m[i - 1] + (line.paint_m[i] - line.paint_m[i - 1]) * (k / 10.0);
                    REQUIRE(field::distance_to_line_m(p, truth) <= 0.457 + 0.5 * line.width_m);
                }
                const double off = field::distance_to_line_m(line.paint_m[i], truth);
                square_sum += off * off;
                count += 1.0;
            }
            for (const glm::dvec2& p : line.paint_m) {
                REQUIRE(p.x >= 0.0);
                REQUIRE(p.y >= 0.0);
                REQUIRE(p.x <= yard.world.yard.width_m);
                REQUIRE(p.y <= yard.world.yard.length_m);
            }
        }
    }
    const double rms = std::sqrt(square_sum / count);
    MESSAGE(count << " marks, " << rms << " m off their lines (RMS)");
    CHECK(rms > 0.08);
    CHECK(rms < 0.16);
}

TEST_CASE("paint, answers and clues agree with one another") {
    for (const Drawn& yard : yards()) {
        INFO(yard.what);
        const field::World& world = yard.world;
        std::map<std::string, std::string> answers;
        for (const field::OwnerResponse& response : world.sheet.ticket.responses) {
            REQUIRE(answers.emplace(response.owner, response.answer).second);
        }
        REQUIRE(answers.size() == 5);
        REQUIRE(world.sheet.ticket.number.rfind("NV-", 0) == 0);
        std::set<std::string> with_line;
        for (const field::BuriedLine& line : world.yard.lines) {
            if (line.is_private) {
                REQUIRE(line.paint_m.empty());
                REQUIRE(line.owner.empty());
            } else {
                with_line.insert(line.owner);
                REQUIRE(line.paint_m.empty() == (answers.at(line.owner) != "marked"));
            }
        }
        std::size_t silent = 0;
        for (const auto& [owner, answer] : answers) {
            silent += answer == "no answer yet" ? 1 : 0;
            if (answer != "no answer yet") {
                REQUIRE(answer == (with_line.contains(owner) ? "marked" : "clear"));
            }
        }
        const bool requested = world.sheet.ticket.state == field::TicketState::requested;
        REQUIRE((silent > 0) == requested);
        REQUIRE(world.sheet.ticket.state == yard.wanted.ticket_state.value_or(field::TicketState::cleared));
    }
}

TEST_CASE("a private line shows by its clue") {
    using field::ClueKind;
    using field::LineKind;
    const std::map<LineKind, ClueKind> shows = {{LineKind::electric, ClueKind::lit_outbuilding},
                                                {LineKind::gas, ClueKind::grill},
                                                {LineKind::water, ClueKind::water_meter},
                                                {LineKind::reclaimed_water, ClueKind::irrigation_valve}};
    std::map<LineKind, int> seen;
    for (const Drawn& yard : yards()) {
        for (const field::BuriedLine& line : yard.world.yard.lines) {
            if (!line.is_private || line.kind == LineKind::sewer) {
                continue;
            }
            INFO(yard.what);
            ++seen[line.kind];
            const bool shown = std::ranges::any_of(yard.world.yard.clues, [&](const field::Clue& clue) {
                return clue.kind == shows.at(line.kind) &&
                       field::distance_to_line_m(clue.place_m, field::plan(line.points_m)) < 0.5;
            });
            REQUIRE(shown);
        }
    }
    CHECK(seen.size() == shows.size());
}
