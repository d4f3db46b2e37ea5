// What stands round a house: fences, beds, hedges, trees, ponds, sheds. Private to this folder. Each is set only where
// it leaves room to what is there already, and left out when it finds none.
#pragma once

#include "scenarios/yard_plan.hpp"

namespace sondeyard::scenarios {

struct LayoutDraws { // one stream a subject, so that a change in one leaves the others as they were
    explicit LayoutDraws(std::uint64_t seed)
        : house(seed, "yard.house"), paving(seed, "yard.paving"), planting(seed, "yard.planting"),
          trees(seed, "yard.trees"), fence(seed, "yard.fence") {}
    sim::Draws house;
    sim::Draws paving;
    sim::Draws planting;
    sim::Draws trees;
    sim::Draws fence;
};

// Round the back of the lot and back to the house's flanks, with a gate in each return; right_u is its right-hand line.
void back_fence(Lot& lot, sim::Draws& draws, const Box& house, double right_u);
void foundation_beds(Lot& lot, sim::Draws& draws, double chance_per_wall);
void hedge(Lot& lot, sim::Draws& draws, double chance); // along the street
void back_beds(Lot& lot, sim::Draws& draws, int count); // along the side and rear lines
void vegetable_beds(Lot& lot, sim::Draws& draws);
void island_bed(Lot& lot, sim::Draws& draws, const Box& within);
void pond(Lot& lot, sim::Draws& draws, const Box& within, double least_m, double most_m);
void shed(Lot& lot, sim::Draws& draws, const Box& within, std::string_view name, bool large);
void trees(Lot& lot, sim::Draws& draws, int count);

} // namespace sondeyard::scenarios
