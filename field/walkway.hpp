// Where one can walk: paths over the visible yard for somebody whose receiver is to be held over a given place.
#pragma once

#include "field/world.hpp"

#include <cstdint>

namespace sondeyard::field {

// Knows the Brief alone: the areas that one cannot stand on and the yard's edge. Asks about a cell only when a path
// comes by it, and remembers the answer.
class Walkway {
public:
    explicit Walkway(const Brief& brief); // the brief must outlive it

    struct Path {
        std::vector<glm::dvec2> feet_m; // corners after the first place, walked straight from one to the next
        bool arrives = false;           // false: leads only as near as one gets
    };
    // For feet at from_m to a place from which the tip reaches tip_m.
    Path path(const glm::dvec2& from_m, const glm::dvec2& tip_m);

    bool can_stand(const glm::dvec2& place_m) const;
    // Can the tip be held there from somewhere within arm's length? Says nothing about how to get to it.
    bool can_hold(const glm::dvec2& tip_m) const;

private:
    struct Cell {
        int x = 0;
        int y = 0;
    };
    glm::dvec2 centre_m(const Cell& cell) const;
    Cell cell_at(const glm::dvec2& place_m) const;
    std::size_t index(const Cell& cell) const;
    bool is_clear(const Cell& cell);
    bool straight(const glm::dvec2& a, const glm::dvec2& b) const;
    bool arm_reaches(const glm::dvec2& feet_m, const glm::dvec2& tip_m) const;
    std::vector<glm::dvec2> pulled_tight(const glm::dvec2& from_m, const std::vector<glm::dvec2>& cells) const;

    const Brief* brief_;
    int columns_ = 0;
    int rows_ = 0;
    enum class Known : std::uint8_t { not_yet, clear, blocked };
    std::vector<Known> known_;
};

} // namespace sondeyard::field
