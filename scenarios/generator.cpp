#include "scenarios/generator.hpp"

#include "scenarios/yard_plan.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <cmath>

namespace sondeyard::scenarios {

namespace {

constexpr int tries = 200;
constexpr int tries_a_kind =
    20; // one kind of lot and street side is kept for so many tries, so that none is crowded out
constexpr int tries_a_kind_placed = 4; // fewer where the place is given: it may lie under the house of most kinds
constexpr int most_lines = 8;
constexpr double least_margin_m = 1.3; // between a drain's sonde and the yard's edge

void check(const Wanted& wanted) {
    const auto side = [](const std::optional<double>& value, std::string_view name) {
        if (value && !(*value >= 20.0 && *value <= 60.0)) {
            throw CannotBuild(fmt::format("the yard's {} is {} m; 20 to 60 m is allowed", name, *value));
        }
    };
    side(wanted.width_m, "width");
    side(wanted.length_m, "length");
    const double least_depth_m = wanted.shape == RunShape::none ? sim::closest_range_m : 0.3;
    if (wanted.depth_m && !(*wanted.depth_m >= least_depth_m && *wanted.depth_m <= 10.0)) {
        throw CannotBuild(
            fmt::format("the sonde's depth is {} m; {} to 10 m is allowed", *wanted.depth_m, least_depth_m));
    }
    if (wanted.fall_percent && !(*wanted.fall_percent >= 0.0 && *wanted.fall_percent <= 10.0)) {
        throw CannotBuild(fmt::format("the fall is {} %; 0 to 10 % is allowed", *wanted.fall_percent));
    }
    if (wanted.branch_tilt_deg && !(*wanted.branch_tilt_deg >= 10.0 && *wanted.branch_tilt_deg <= 60.0)) {
        throw CannotBuild(fmt::format("the branch falls at {} deg; 10 to 60 deg is allowed", *wanted.branch_tilt_deg));
    }
    if (wanted.line_count > most_lines) {
        throw CannotBuild(
            fmt::format("{} buried lines are wanted; at most {} are allowed", wanted.line_count, most_lines));
    }
    if (wanted.position_m) {
        const glm::dvec2& p = *wanted.position_m;
        const double width = wanted.width_m.value_or(60.0);
        const double length = wanted.length_m.value_or(60.0);
        const double margin_m = wanted.shape == RunShape::none ? 0.0 : least_margin_m;
        if (!(p.x >= margin_m && p.y >= margin_m && p.x <= width - margin_m && p.y <= length - margin_m)) {
            throw CannotBuild(fmt::format("the sonde at ({}, {}) is nearer than {} m to the yard's edge or outside it",
                                          p.x, p.y, margin_m));
        }
    }
}

bool holds(double low, double high, const std::optional<double>& value) {
    return !value || (*value >= low && *value <= high);
}

// Kind of lot, street side and size. Draws of one kind are those of its first try, so that a new try moves what is in
// it.
struct Choice {
    LotKind kind = LotKind::set_back;
    Placement placement;
};
Choice choose_lot(const Wanted& wanted, int attempt) {
    const auto turn = static_cast<std::uint64_t>(attempt / (wanted.position_m ? tries_a_kind_placed : tries_a_kind));
    sim::Draws draws(wanted.seed + 0x9e3779b97f4a7c15ULL * turn, "yard.kind");
    Choice choice;
    choice.placement.side = draws.integer(0, 3);
    choice.placement.mirrored = draws.chance(0.5);
    const bool turned = choice.placement.side % 2 == 1;
    const std::optional<double> width = turned ? wanted.length_m : wanted.width_m;
    const std::optional<double> depth = turned ? wanted.width_m : wanted.length_m;
    std::vector<LotKind> fitting;
    for (std::size_t i = 0; i < lot_kind_count; ++i) {
        const auto kind = static_cast<LotKind>(i);
        const SizeRange range = size_range(kind);
        const bool lawn = kind == LotKind::set_back || kind == LotKind::garden || kind == LotKind::deep;
        if (holds(range.least_width_m, range.most_width_m, width) &&
            holds(range.least_depth_m, range.most_depth_m, depth) && (lawn || !wanted.empty_lawn)) {
            fitting.push_back(kind);
        }
    }
    // A set-back house fits every size; it is the one answer left for odd ones.
    const int pick = draws.integer(0, static_cast<int>(fitting.size()) - 1);
    choice.kind = fitting[static_cast<std::size_t>(pick)];
    if (wanted.empty_lawn && draws.chance(0.7)) {
        choice.kind = LotKind::set_back;
    }
    const SizeRange range = size_range(choice.kind);
    const double drawn_width = std::floor(draws.uniform(range.usual_width_m[0], range.usual_width_m[1]) * 2.0) / 2.0;
    const double drawn_depth = std::floor(draws.uniform(range.usual_depth_m[0], range.usual_depth_m[1]) * 2.0) / 2.0;
    choice.placement.lot_width_m = width.value_or(drawn_width);
    choice.placement.lot_depth_m = depth.value_or(drawn_depth);
    return choice;
}

double drawn_depth_m(const Wanted& wanted) {
    sim::Draws draws(wanted.seed, "yard.depth");
    switch (wanted.shape) {
    case RunShape::steep_branch:
        return to_cm(draws.uniform(1.0, 1.8));
    case RunShape::drop:
        return to_cm(draws.uniform(1.1, 2.0));
    default:
        return to_cm(draws.uniform(0.8, 1.8));
    }
}

void fill_sheet(const Site& site, field::JobSheet& sheet) {
    const Wanted& wanted = site.wanted;
    sheet.frequency_hz = wanted.frequency_hz;
    sheet.counter_zero = wanted.counter_zero;
    sheet.material = wanted.material;
    sheet.inside_diameter_m = wanted.inside_diameter_m;
    sheet.wall_m = wanted.wall_m;
    sheet.sonde_above_invert_m =
        site.drain ? field::centre_above_invert_m(site.drain->run, site.drain->along_m, wanted.sonde_above_invert_m)
                   : wanted.sonde_above_invert_m;
    sheet.sonde_to_lens_m = wanted.sonde_to_lens_m;
    sheet.lens_to_fault_m = wanted.lens_to_fault_m;
    if (site.drain) {
        sim::Draws draws(site.seed, "yard.counter");
        const double riser =
            wanted.counter_zero == field::CounterZero::cleanout_rim ? -site.drain->run.centreline_m.front().z : 0.0;
        const double out = site.drain->along_m + riser;
        sheet.cleanout_m = site.drain->cleanout_m;
        sheet.counter_m = std::floor(out * (1.0 + draws.uniform(0.0, 0.03)) * 100.0) / 100.0;
        sheet.counter_m = std::max(*sheet.counter_m, std::ceil(out * 100.0) / 100.0); // slack is never less than none
    }
}

// The fault must be where one can dig, too.
bool target_will_do(const field::World& world) {
    const glm::dvec2 at = field::plan(field::dig_target(world).centre_m);
    return at.x > 0.5 && at.y > 0.5 && at.x < world.yard.width_m - 0.5 && at.y < world.yard.length_m - 0.5 &&
           field::tip_may_be(world.yard.width_m, world.yard.length_m, world.yard.areas, at);
}

std::optional<field::World> attempt_world(const Wanted& wanted, int attempt, std::string& why) {
    Site site;
    site.wanted = wanted;
    site.seed = wanted.seed + 0xd1b54a32d192ed03ULL * static_cast<std::uint64_t>(attempt);
    const Choice choice = choose_lot(wanted, attempt);
    site.placement = choice.placement;
    if (wanted.position_m) {
        const glm::dvec2& p = *wanted.position_m;
        if (std::min(p.x, p.y) < least_margin_m || p.x > site.placement.yard_width_m() - least_margin_m ||
            p.y > site.placement.yard_length_m() - least_margin_m) {
            why = "the wanted place lies outside the yard that was drawn";
            return std::nullopt;
        }
    }
    site.lot = lay_out(choice.kind, site.placement.lot_width_m, site.placement.lot_depth_m, site.seed);
    site.depth_m = wanted.depth_m.value_or(drawn_depth_m(wanted));
    if (!(wanted.shape == RunShape::none ? place_bare_sonde(site, why) : place_drain(site, why))) {
        return std::nullopt;
    }
    site.yard.width_m = site.placement.yard_width_m();
    site.yard.length_m = site.placement.yard_length_m();
    for (const field::Area& area : site.lot.areas) {
        field::Area placed{area.kind, {}, area.name};
        for (const glm::dvec2& p : area.outline_m) {
            placed.outline_m.push_back(site.placement.to_yard(p));
        }
        site.yard.areas.push_back(std::move(placed));
    }
    if (!clear_round_sonde(site, why)) {
        return std::nullopt;
    }
    field::World world;
    const Ground ground(site.yard, field::plan(site.sonde.position_m));
    if (!workable(site, ground, why)) {
        return std::nullopt;
    }
    if (!choose_start(site, ground, world)) {
        why = "there is no place to start from 6 to 14 m off the sonde";
        return std::nullopt;
    }
    if (!bury_lines(site, world.sheet.ticket, why)) {
        return std::nullopt;
    }
    if (wanted.other_crew && !place_other_crew(site, world.other_sondes, why)) {
        return std::nullopt;
    }
    sim::Draws habits(wanted.seed, "habits");
    world.habits = {to_cm(habits.uniform(2.0, 8.0)), std::floor(habits.uniform(0.0, 360.0))};
    fill_sheet(site, world.sheet);
    world.seed = wanted.seed;
    world.sonde = site.sonde;
    if (site.drain) {
        world.run = site.drain->run;
    }
    world.yard = std::move(site.yard);
    if (!target_will_do(world)) {
        why = "the fault would lie where nobody can dig";
        return std::nullopt;
    }
    const std::vector<std::string> faults = field::faults(world);
    if (!faults.empty()) {
        why = faults.front();
        return std::nullopt;
    }
    return world;
}

// A lawn and nothing else, for a place that no kind of lot leaves room round: a scenario that fixes the sonde's place
// gets it.
field::World bare_lawn(const Wanted& wanted) {
    Site site;
    site.wanted = wanted;
    site.seed = wanted.seed;
    const glm::dvec2 sonde = *wanted.position_m;
    sim::Draws draws(wanted.seed, "yard.bare");
    field::World world;
    world.seed = wanted.seed;
    world.yard.width_m = wanted.width_m.value_or(std::max(30.0, std::ceil(sonde.x + 10.0)));
    world.yard.length_m = wanted.length_m.value_or(std::max(30.0, std::ceil(sonde.y + 10.0)));
    world.sonde.frequency_hz = wanted.frequency_hz;
    world.sonde.moment_am2 = wanted.moment_am2;
    world.sonde.position_m = {sonde, -wanted.depth_m.value_or(drawn_depth_m(wanted))};
    world.sonde.heading_deg = wanted.heading_deg.value_or(std::floor(draws.uniform(0.0, 360.0)));
    world.sonde.tilt_deg = wanted.tilt_deg.value_or(0.0);
    const glm::dvec2 middle{0.5 * world.yard.width_m, 0.5 * world.yard.length_m};
    const glm::dvec2 inward =
        glm::distance(middle, sonde) > 0.5 ? glm::normalize(middle - sonde) : glm::dvec2{0.0, 1.0};
    world.start_m = sonde + 8.0 * inward;
    world.start_facing_deg = std::floor(field::heading_of(-inward));
    world.habits = {to_cm(draws.uniform(2.0, 8.0)), std::floor(draws.uniform(0.0, 360.0))};
    fill_sheet(site, world.sheet);
    world.sheet.ticket = answer_ticket(site, draw_owners(site.seed)); // nobody has a line here, and all say so
    const std::vector<std::string> faults = field::faults(world);
    if (!faults.empty()) {
        throw CannotBuild(faults.front());
    }
    return world;
}

} // namespace

field::World generate(const Wanted& wanted) {
    check(wanted);
    std::string why;
    for (int attempt = 0; attempt < tries; ++attempt) {
        if (std::optional<field::World> world = attempt_world(wanted, attempt, why)) {
            return std::move(*world);
        }
    }
    const bool more_than_lawn = wanted.neighbour || wanted.other_crew || wanted.supply;
    if (wanted.shape == RunShape::none && wanted.position_m && !more_than_lawn) {
        return bare_lawn(wanted);
    }
    throw CannotBuild(fmt::format("no yard fits after {} tries; in the last one {}", tries, why));
}

} // namespace sondeyard::scenarios
