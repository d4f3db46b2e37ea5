// Yards for the generator's tests, drawn once and looked at by several of them.
#pragma once

#include "scenarios/generator.hpp"

#include <cstdlib>
#include <string>
#include <vector>

namespace sondeyard::scenarios::test {

struct Drawn {
    std::string what; // "drop, seed 17"
    Wanted wanted;
    field::World world;
};

// 2,000 in a plain build; sanitizers make the same code some twenty times slower.
inline std::uint64_t seed_count() { return std::getenv("SONDEYARD_SANITIZED") != nullptr ? 50 : 2000; }

struct Variety {
    std::string name;
    Wanted wanted;
    std::uint64_t share = 4; // one in so many of the seeds
};

inline std::vector<Variety> varieties() {
    const auto of_shape = [](RunShape shape) {
        Wanted w;
        w.shape = shape;
        return w;
    };
    std::vector<Variety> all = {{"fall", of_shape(RunShape::fall), 1},
                                {"steep branch", of_shape(RunShape::steep_branch), 2},
                                {"drop", of_shape(RunShape::drop), 2},
                                {"bare sonde", of_shape(RunShape::none), 4}};
    Wanted lawn;
    lawn.empty_lawn = true;
    lawn.fall_percent = 0.0;
    all.push_back({"level in a lawn", lawn, 4});
    Wanted deep;
    deep.depth_m = 3.2;
    all.push_back({"deep", deep, 4});
    Wanted two;
    two.second_drain = true;
    all.push_back({"two drains", two, 4});
    Wanted placed;
    placed.width_m = 32.0;
    placed.length_m = 40.0;
    placed.position_m = glm::dvec2{13.4, 21.7};
    placed.depth_m = 1.25;
    all.push_back({"placed", placed, 8});
    Wanted turned = placed;
    turned.heading_deg = 142.0;
    all.push_back({"placed and turned", turned, 8});
    Wanted steepest = of_shape(RunShape::steep_branch);
    steepest.branch_tilt_deg = 40.0;
    all.push_back({"steepest branch", steepest, 8});
    Wanted pushed;
    pushed.counter_zero = field::CounterZero::pipe_mouth;
    pushed.sonde_to_lens_m = 0.3;
    pushed.lens_to_fault_m = 0.8;
    pushed.ticket_state = field::TicketState::requested;
    pushed.line_count = 4;
    all.push_back({"pushed on", pushed, 8});
    return all;
}

inline const std::vector<Drawn>& yards() {
    static const std::vector<Drawn> all = [] {
        std::vector<Drawn> drawn;
        for (const Variety& variety : varieties()) {
            for (std::uint64_t seed = 0; seed < seed_count(); seed += variety.share) {
                Wanted wanted = variety.wanted;
                wanted.seed = seed;
                drawn.push_back({variety.name + ", seed " + std::to_string(seed), wanted, generate(wanted)});
            }
        }
        return drawn;
    }();
    return all;
}

} // namespace sondeyard::scenarios::test
