// The kinds of lot. In the lot frame the drive lies on the left; a Placement may swap the sides.
#include "scenarios/yard_furniture.hpp"

#include <algorithm>

namespace sondeyard::scenarios {

namespace {

using field::AreaKind;

// House outlines, counter-clockwise. A wing goes out by `out_m` at the left or right end of one side.
field::Polygon front_wing(const Box& b, bool left, double wing_m, double out_m) {
    if (left) {
        return {{b.u0, b.v0 - out_m}, {b.u0 + wing_m, b.v0 - out_m}, {b.u0 + wing_m, b.v0}, {b.u1, b.v0}, {b.u1, b.v1},
                {b.u0, b.v1}};
    }
    return {{b.u0, b.v0},         {b.u1 - wing_m, b.v0}, {b.u1 - wing_m, b.v0 - out_m},
            {b.u1, b.v0 - out_m}, {b.u1, b.v1},          {b.u0, b.v1}};
}

field::Polygon rear_wing(const Box& b, bool left, double wing_m, double out_m) {
    if (left) {
        return {{b.u0, b.v0},        {b.u1, b.v0}, {b.u1, b.v1}, {b.u0 + wing_m, b.v1}, {b.u0 + wing_m, b.v1 + out_m},
                {b.u0, b.v1 + out_m}};
    }
    return {{b.u0, b.v0},          {b.u1, b.v0}, {b.u1, b.v1 + out_m}, {b.u1 - wing_m, b.v1 + out_m},
            {b.u1 - wing_m, b.v1}, {b.u0, b.v1}};
}

field::Polygon two_rear_wings(const Box& b, double left_m, double right_m, double out_m) {
    return {
        {b.u0, b.v0},           {b.u1, b.v0},          {b.u1, b.v1 + out_m},          {b.u1 - right_m, b.v1 + out_m},
        {b.u1 - right_m, b.v1}, {b.u0 + left_m, b.v1}, {b.u0 + left_m, b.v1 + out_m}, {b.u0, b.v1 + out_m}};
}

void add(Lot& lot, AreaKind kind, const Box& box, std::string_view name) {
    lot.areas.push_back({kind, outline(box), std::string(name)});
}

void add_house(Lot& lot, field::Polygon house) {
    lot.house = std::move(house);
    lot.areas.push_back({AreaKind::house, lot.house, "house"});
}

// A house of about this size set back from the street, as far as the lot has room for it; left, right and rear are what
// must stay free. (A struct, since the draws in a braced list are made in the order written, those of arguments are
// not.)
struct HouseWish {
    double width_m;
    double depth_m;
    double set_back_m;
    double left_m;
    double right_m;
    double rear_m;
};
Box house_box(const Lot& lot, sim::Draws& d, const HouseWish& wish) {
    const double room = lot.width_m - lot.side_street_m - wish.left_m - wish.right_m;
    const double width = to_cm(std::max(5.0, std::min(wish.width_m, room)));
    const double u0 = to_cm(wish.left_m + d.uniform(0.0, 1.0) * std::max(0.0, room - width));
    const double back = lot.depth_m - lot.street_m - wish.rear_m;
    const double depth = to_cm(std::max(5.0, std::min(wish.depth_m, back - 4.0)));
    const double v0 = to_cm(lot.street_m + std::max(3.5, std::min(wish.set_back_m, back - depth)));
    return {u0, v0, u0 + width, v0 + depth};
}

// A walk from the front door to the street, or round to the drive when there is one on the left.
void add_walk(Lot& lot, sim::Draws& d, double door_u, double front_v, double wing_v, double drive_u1) {
    const double half = 0.55;
    const double low = to_cm(wing_v - d.uniform(1.5, 2.2));
    if (drive_u1 > 0.0 && door_u - half > drive_u1 + 0.4 && low > lot.street_m + 1.0 && d.chance(0.6)) {
        lot.areas.push_back({AreaKind::slab,
                             {{drive_u1, low},
                              {door_u + half, low},
                              {door_u + half, front_v},
                              {door_u - half, front_v},
                              {door_u - half, low + 1.1},
                              {drive_u1, low + 1.1}},
                             "walk"});
        return;
    }
    add(lot, AreaKind::slab, {door_u - half, lot.street_m, door_u + half, front_v}, "walk");
}

void add_patio(Lot& lot, sim::Draws& d, double from_u, double to_u, double wall_v) {
    const double width = to_cm(std::min(to_u - from_u, d.uniform(3.2, 7.0)));
    const double depth = to_cm(std::min(d.uniform(2.6, 4.6), lot.depth_m - wall_v - 1.5));
    if (width < 2.0 || depth < 1.5) {
        return;
    }
    const double u0 = to_cm(from_u + d.uniform(0.0, 1.0) * (to_u - from_u - width));
    add(lot, AreaKind::slab, {u0, wall_v, u0 + width, wall_v + depth}, "patio");
}

void suburban(Lot& lot, LayoutDraws& d) {
    const bool wide = lot.width_m >= 23.0 && d.house.chance(0.6);
    const double wing = wide ? 6.2 : 3.7;
    const double out = d.house.chance(0.55) ? to_cm(d.house.uniform(1.5, 3.4)) : 0.0;
    const Box b = house_box(
        lot, d.house,
        {d.house.uniform(11.5, 15.5), d.house.uniform(7.5, 10.0), out + d.house.uniform(6.0, 9.5), 1.6, 2.2, 7.0});
    add_house(lot, out > 0.0 ? front_wing(b, true, wing, out) : outline(b));
    const double drive_u1 = b.u0 + wing - 0.3;
    add(lot, AreaKind::drive, {b.u0 + 0.3, lot.street_m, drive_u1, b.v0 - out}, "drive");
    const double door = to_cm(d.house.uniform(b.u0 + wing + 1.2, b.u1 - 1.6));
    add_walk(lot, d.paving, door, b.v0, b.v0 - out, drive_u1);
    add_patio(lot, d.paving, b.u0 + 1.0, b.u1 - 1.0, b.v1);
    foundation_beds(lot, d.planting, 0.65);
    if (d.fence.chance(0.65)) {
        back_fence(lot, d.fence, b, lot.width_m);
    }
    hedge(lot, d.planting, 0.3);
    back_beds(lot, d.planting, d.planting.integer(0, 2));
    trees(lot, d.trees, d.trees.integer(0, 3));
}

void corner(Lot& lot, LayoutDraws& d) {
    lot.side_street_m = to_cm(d.house.uniform(3.0, 4.2));
    add(lot, AreaKind::street, {lot.width_m - lot.side_street_m, lot.street_m, lot.width_m, lot.depth_m},
        "side street");
    const double out = to_cm(d.house.uniform(2.0, 4.0));
    const double wing = to_cm(d.house.uniform(5.6, 6.6));
    const Box b = house_box(
        lot, d.house,
        {d.house.uniform(11.0, 14.5), d.house.uniform(7.0, 9.0), d.house.uniform(5.5, 8.5), 3.0, 6.0, 6.0 + out});
    add_house(lot, rear_wing(b, false, wing, out));
    const double low = b.v1 + out - 5.2;
    add(lot, AreaKind::drive, {b.u1, low, lot.width_m - lot.side_street_m, b.v1 + out - 0.3}, "drive");
    add_walk(lot, d.paving, to_cm(d.house.uniform(b.u0 + 2.0, b.u1 - 2.0)), b.v0, b.v0, 0.0);
    add_patio(lot, d.paving, b.u0 + 0.5, b.u1 - wing - 0.3, b.v1);
    foundation_beds(lot, d.planting, 0.55);
    if (d.fence.chance(0.75)) {
        back_fence(lot, d.fence, {b.u0, b.v0, b.u1, b.v1 + out}, lot.width_m - lot.side_street_m - 0.6);
    }
    hedge(lot, d.planting, 0.5);
    back_beds(lot, d.planting, d.planting.integer(0, 2));
    trees(lot, d.trees, d.trees.integer(0, 4));
}

void deep_lot(Lot& lot, LayoutDraws& d) {
    const Box b =
        house_box(lot, d.house,
                  {d.house.uniform(10.0, 13.5), d.house.uniform(8.0, 10.5), d.house.uniform(5.5, 8.0), 3.6, 1.5, 18.0});
    const double wing = to_cm(d.house.uniform(4.0, 5.0));
    const bool winged = d.house.chance(0.5);
    const double out = to_cm(d.house.uniform(2.0, 3.5));
    add_house(lot, winged ? rear_wing(b, false, wing, out) : outline(b));
    add(lot, AreaKind::drive, {b.u0 - 3.1, lot.street_m, b.u0 - 0.3, b.v0 + to_cm(d.paving.uniform(1.0, 5.0))},
        "drive");
    add_walk(lot, d.paving, to_cm(d.house.uniform(b.u0 + 1.5, b.u1 - 1.5)), b.v0, b.v0, b.u0 - 0.3);
    add_patio(lot, d.paving, b.u0 + 0.4, winged ? b.u1 - wing - 0.2 : b.u1 - 0.4, b.v1);
    shed(lot, d.house, {2.0, lot.depth_m - 7.0, lot.width_m - 2.0, lot.depth_m - 1.2}, "shed", false);
    if (d.fence.chance(0.85)) {
        back_fence(lot, d.fence, b, lot.width_m);
    }
    foundation_beds(lot, d.planting, 0.5);
    vegetable_beds(lot, d.planting);
    back_beds(lot, d.planting, d.planting.integer(0, 2));
    trees(lot, d.trees, d.trees.integer(1, 5));
}

void courtyard(Lot& lot, LayoutDraws& d) {
    const double out = to_cm(d.house.uniform(4.0, 5.5));
    const double left = to_cm(d.house.uniform(4.0, 5.2));
    const double right = to_cm(d.house.uniform(3.8, 4.6));
    const Box b = house_box(
        lot, d.house,
        {d.house.uniform(14.0, 17.0), d.house.uniform(5.5, 7.0), d.house.uniform(5.5, 9.0), 4.6, 2.0, 6.0 + out});
    add_house(lot, two_rear_wings(b, left, right, out));
    add(lot, AreaKind::slab, {b.u0 + left, b.v1, b.u1 - right, b.v1 + out + to_cm(d.paving.uniform(-0.5, 2.0))},
        "patio");
    add(lot, AreaKind::drive, {b.u0 - 3.6, lot.street_m, b.u0 - 0.4, b.v0 + to_cm(d.paving.uniform(3.0, 6.0))},
        "drive");
    add_walk(lot, d.paving, to_cm(d.house.uniform(b.u0 + 2.5, b.u1 - 2.5)), b.v0, b.v0, b.u0 - 0.4);
    foundation_beds(lot, d.planting, 0.6);
    if (d.fence.chance(0.6)) {
        back_fence(lot, d.fence, {b.u0, b.v0, b.u1, b.v1 + out}, lot.width_m);
    }
    back_beds(lot, d.planting, d.planting.integer(1, 3));
    if (d.house.chance(0.4)) {
        pond(lot, d.planting, {2.0, b.v1 + out + 2.0, lot.width_m - 2.0, lot.depth_m - 1.0}, 1.6, 2.8);
    }
    trees(lot, d.trees, d.trees.integer(0, 4));
}

void detached_garage(Lot& lot, LayoutDraws& d) {
    const Box b =
        house_box(lot, d.house,
                  {d.house.uniform(10.0, 13.0), d.house.uniform(8.5, 11.0), d.house.uniform(5.5, 8.5), 5.2, 1.8, 11.0});
    add_house(lot, outline(b));
    const double wide = d.house.chance(0.5) ? 6.2 : 3.8;
    const double g0 = std::min(b.v1 + to_cm(d.house.uniform(1.8, 5.0)), lot.depth_m - 7.6);
    lot.areas.push_back({AreaKind::house, outline({0.9, g0, 0.9 + wide, g0 + 6.4}), "garage"});
    add(lot, AreaKind::drive, {1.1, lot.street_m, 4.3, g0}, "drive");
    add_walk(lot, d.paving, to_cm(d.house.uniform(b.u0 + 1.5, b.u1 - 1.5)), b.v0, b.v0, 4.3);
    add_patio(lot, d.paving, std::max(b.u0 + 0.5, 0.9 + wide + 1.4), b.u1 - 0.3, b.v1);
    foundation_beds(lot, d.planting, 0.5);
    if (d.fence.chance(0.6)) {
        back_fence(lot, d.fence, b, lot.width_m);
    }
    hedge(lot, d.planting, 0.35);
    back_beds(lot, d.planting, d.planting.integer(0, 3));
    trees(lot, d.trees, d.trees.integer(0, 4));
}

void narrow(Lot& lot, LayoutDraws& d) {
    const double wing = to_cm(d.house.uniform(4.5, 6.0));
    const double out = to_cm(d.house.uniform(2.5, 4.0));
    const Box b = house_box(
        lot, d.house, {lot.width_m - 5.4, d.house.uniform(9.0, 12.0), d.house.uniform(4.5, 6.5), 3.6, 1.6, 8.0 + out});
    add_house(lot, rear_wing(b, d.house.chance(0.5), wing, out));
    add(lot, AreaKind::drive, {0.5, lot.street_m, 3.3, b.v0 + to_cm(d.paving.uniform(-0.5, 6.0))}, "drive");
    add_walk(lot, d.paving, to_cm(d.house.uniform(b.u0 + 1.5, b.u1 - 1.5)), b.v0, b.v0, 0.0);
    const double full = d.paving.chance(0.5) ? 0.0 : 2.5;
    const double patio_v = b.v1 + out;
    add(lot, AreaKind::slab, {b.u0 + full, patio_v + 0.02, b.u1 - full, patio_v + to_cm(d.paving.uniform(2.0, 3.4))},
        "patio");
    foundation_beds(lot, d.planting, 0.35);
    if (d.house.chance(0.7)) {
        shed(lot, d.house, {0.8, lot.depth_m - 4.4, lot.width_m - 0.8, lot.depth_m - 0.6}, "shed", false);
    }
    back_fence(lot, d.fence, {b.u0, b.v0, b.u1, b.v1 + out}, lot.width_m);
    hedge(lot, d.planting, 0.5);
    back_beds(lot, d.planting, d.planting.integer(0, 2));
    trees(lot, d.trees, d.trees.integer(0, 2));
}

void set_back(Lot& lot, LayoutDraws& d) {
    const double room = lot.depth_m - lot.street_m;
    const double depth = room < 24.0 ? 5.2 : to_cm(d.house.uniform(6.5, 9.0));
    const double rear = room < 24.0 ? 0.8 : d.house.uniform(1.5, 5.0);
    const double left = lot.width_m < 26.0 ? 3.8 : d.house.uniform(4.5, 7.0);
    const Box b = house_box(lot, d.house, {d.house.uniform(10.0, 15.0), depth, 99.0, left, 1.5, rear});
    add_house(lot, outline(b));
    const double drive_u0 = to_cm(d.paving.uniform(0.5, std::max(0.6, left - 3.4)));
    add(lot, AreaKind::drive, {drive_u0, lot.street_m, drive_u0 + 2.9, b.v0 + 3.0}, "drive");
    if (drive_u0 + 2.9 < b.u0 - 0.1) {
        add(lot, AreaKind::slab, {drive_u0 + 2.9, b.v0 - 1.4, b.u0 + to_cm(d.paving.uniform(2.0, 5.0)), b.v0}, "walk");
    }
    hedge(lot, d.planting, 0.6);
    foundation_beds(lot, d.planting, 0.6);
    trees(lot, d.trees, d.trees.integer(0, 5));
    if (d.planting.chance(0.4)) {
        island_bed(lot, d.planting, {2.0, lot.street_m + 2.0, lot.width_m - 2.0, b.v0 - 2.0});
    }
}

void garden(Lot& lot, LayoutDraws& d) {
    const double width = d.house.uniform(9.0, 12.0);
    const double out = to_cm(d.house.uniform(2.0, 3.0));
    const Box b =
        house_box(lot, d.house,
                  {width, d.house.uniform(8.0, 11.0), d.house.uniform(6.5, 10.0), 2.0, lot.width_m - 2.5 - width, 7.0});
    add_house(lot, front_wing(b, true, 3.8, out));
    add(lot, AreaKind::drive, {b.u0 + 0.3, lot.street_m, b.u0 + 3.5, b.v0 - out}, "drive");
    add_walk(lot, d.paving, to_cm(d.house.uniform(b.u0 + 5.2, b.u1 - 1.2)), b.v0, b.v0 - out, b.u0 + 3.5);
    // The garden lies beside the house: a terrace on that side, a path across the lawn, water and a summer house
    // beyond.
    const double terrace_v = to_cm(d.paving.uniform(b.v0 + 0.5, b.v1 - 4.5));
    const double terrace_u = b.u1 + to_cm(d.paving.uniform(2.4, 3.6));
    add(lot, AreaKind::slab, {b.u1, terrace_v, terrace_u, terrace_v + 4.0}, "patio");
    const double path_end = to_cm(d.paving.uniform(terrace_u + 4.0, lot.width_m - 5.0));
    add(lot, AreaKind::slab, {terrace_u, terrace_v + 1.4, path_end, terrace_v + 2.3}, "garden path");
    const Box beyond{terrace_u + 1.0, lot.street_m + 2.0, lot.width_m - 1.5, lot.depth_m - 1.5};
    pond(lot, d.planting, beyond, 1.8, 3.8);
    shed(lot, d.house, {terrace_u + 4.0, lot.depth_m - 6.0, lot.width_m - 1.2, lot.depth_m - 1.2}, "summer house",
         true);
    const int islands = d.planting.integer(1, 3);
    for (int i = 0; i < islands; ++i) {
        island_bed(lot, d.planting, beyond);
    }
    foundation_beds(lot, d.planting, 0.5);
    hedge(lot, d.planting, 0.6);
    back_beds(lot, d.planting, d.planting.integer(1, 2));
    trees(lot, d.trees, d.trees.integer(2, 5));
}

void twin(Lot& lot, LayoutDraws& d) {
    const Box b =
        house_box(lot, d.house,
                  {d.house.uniform(15.0, 18.0), d.house.uniform(8.5, 10.5), d.house.uniform(5.5, 8.5), 4.4, 4.4, 8.0});
    const double middle = to_cm(0.5 * (b.u0 + b.u1));
    add_house(lot, outline({b.u0, b.v0, middle, b.v1}));
    lot.areas.push_back({AreaKind::house, outline({middle, b.v0, b.u1, b.v1}), "neighbour's house"});
    const double deep = to_cm(d.paving.uniform(0.0, 5.0));
    add(lot, AreaKind::drive, {b.u0 - 3.3, lot.street_m, b.u0 - 0.4, b.v0 + deep}, "drive");
    add(lot, AreaKind::drive, {b.u1 + 0.4, lot.street_m, b.u1 + 3.3, b.v0 + deep}, "neighbour's drive");
    const double door = to_cm(d.house.uniform(1.4, 3.4));
    add(lot, AreaKind::slab, {middle - door - 1.1, lot.street_m, middle - door, b.v0}, "walk");
    add(lot, AreaKind::slab, {middle + door, lot.street_m, middle + door + 1.1, b.v0}, "neighbour's walk");
    add_patio(lot, d.paving, b.u0 + 0.5, middle - 0.6, b.v1);
    add(lot, AreaKind::fence, {middle - 0.05, b.v1 + 0.02, middle + 0.05, lot.depth_m - 0.5}, "fence");
    if (d.planting.chance(0.6)) {
        add(lot, AreaKind::planting, {middle - 0.4, lot.street_m + 0.4, middle + 0.4, b.v0 - 0.6}, "hedge");
    }
    foundation_beds(lot, d.planting, 0.5);
    if (d.fence.chance(0.5)) {
        back_fence(lot, d.fence, b, lot.width_m);
    }
    if (d.house.chance(0.6)) {
        shed(lot, d.house, {1.0, lot.depth_m - 4.6, middle - 1.0, lot.depth_m - 0.9}, "shed", false);
    }
    back_beds(lot, d.planting, d.planting.integer(0, 2));
    trees(lot, d.trees, d.trees.integer(0, 3));
}

} // namespace

Lot lay_out(LotKind kind, double width_m, double depth_m, std::uint64_t seed) {
    Lot lot;
    lot.kind = kind;
    lot.width_m = width_m;
    lot.depth_m = depth_m;
    LayoutDraws draws(seed);
    lot.street_m = to_cm(depth_m < 26.0 ? draws.house.uniform(2.4, 2.9) : draws.house.uniform(3.2, 5.0));
    lot.main_v_m = to_cm(lot.street_m * draws.house.uniform(0.2, 0.4));
    add(lot, AreaKind::street, {0.0, 0.0, width_m, lot.street_m}, "street");
    switch (kind) {
    case LotKind::suburban:
        suburban(lot, draws);
        break;
    case LotKind::corner:
        corner(lot, draws);
        break;
    case LotKind::deep:
        deep_lot(lot, draws);
        break;
    case LotKind::courtyard:
        courtyard(lot, draws);
        break;
    case LotKind::detached_garage:
        detached_garage(lot, draws);
        break;
    case LotKind::narrow:
        narrow(lot, draws);
        break;
    case LotKind::set_back:
        set_back(lot, draws);
        break;
    case LotKind::garden:
        garden(lot, draws);
        break;
    case LotKind::twin:
        twin(lot, draws);
        break;
    }
    return lot;
}

} // namespace sondeyard::scenarios
