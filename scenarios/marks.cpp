// The paper and the paint: who owns what, how they answered the ticket, and the marks they left on the ground.
#include "scenarios/yard_plan.hpp"

#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>

namespace sondeyard::scenarios {

namespace {

using field::BuriedLine;
using field::LineKind;

constexpr double locator_sd_m = 0.12;   // sideways error of a mark; a suggestion of ordinary size
constexpr double locator_most_m = 0.40; // a clearer that good stays inside the tolerance zone of 0.457 m

// Invented names, two a kind. The sewer main has one owner everywhere.
constexpr std::array<std::array<std::string_view, 2>, 4> owner_names = {
    std::array<std::string_view, 2>{"Lantern Electric", "Quillmoor Power"},
    {"Vale Gas", "Dunmarrow Gas"},
    {"Corbel Telecom", "Fennick Telecom"},
    {"Northvale Water", "Tarrowby Water"}};
constexpr std::string_view sewer_owner = "Northvale Sewers";

// Marks every 2 to 3 m along a line, and at its bends, aside by an error that changes slowly along it.
std::vector<glm::dvec2> paint_along(const Site& site, const BuriedLine& line, sim::Draws& draws) {
    std::vector<glm::dvec2> marks;
    double error = draws.normal(0.0, locator_sd_m);
    const double keep = 0.8; // of one mark's error in the next; the rest is new, so that the sd stays what it is
    for (std::size_t i = 1; i < line.points_m.size(); ++i) {
        const glm::dvec2 a = field::plan(line.points_m[i - 1]);
        const glm::dvec2 b = field::plan(line.points_m[i]);
        const double length = glm::distance(a, b);
        const glm::dvec2 along = (b - a) / length;
        const int pieces = std::max(1, static_cast<int>(std::floor(length / draws.uniform(2.0, 3.0) + 0.5)));
        for (int k = marks.empty() ? 0 : 1; k <= pieces; ++k) {
            const double aside = std::clamp(error, -locator_most_m, locator_most_m);
            glm::dvec2 normal{along.y, -along.x};
            if (k == pieces && i + 1 < line.points_m.size()) { // at a bend half way between both pieces
                const glm::dvec2 next = glm::normalize(field::plan(line.points_m[i + 1]) - b);
                normal = glm::normalize(normal + glm::dvec2{next.y, -next.x});
            }
            const glm::dvec2 mark = a + (b - a) * (static_cast<double>(k) / pieces) + aside * normal;
            marks.emplace_back(std::clamp(to_cm(mark.x), 0.05, site.yard.width_m - 0.05),
                               std::clamp(to_cm(mark.y), 0.05, site.yard.length_m - 0.05));
            error = keep * error + std::sqrt(1.0 - keep * keep) * draws.normal(0.0, locator_sd_m);
        }
    }
    return marks;
}

std::vector<field::OwnerResponse> ask_owners(const Site& site, const Owners& owners, sim::Draws& draws) {
    std::vector<field::OwnerResponse> responses;
    for (const Owner& owner : owners) {
        const bool has_line =
            std::ranges::any_of(site.yard.lines, [&](const BuriedLine& line) { return line.owner == owner.name; });
        responses.push_back({std::string(owner.name), owner.kind, has_line ? "marked" : "clear"});
    }
    if (site.wanted.ticket_state.value_or(field::TicketState::cleared) == field::TicketState::requested) {
        // At least one is silent, one with a line if there is any.
        const auto with_line = std::ranges::find(responses, std::string("marked"), &field::OwnerResponse::answer);
        const auto surely = with_line == responses.end() ? responses.begin() : with_line;
        for (auto it = responses.begin(); it != responses.end(); ++it) {
            if (draws.chance(0.4) || it == surely) {
                it->answer = "no answer yet";
            }
        }
    }
    return responses;
}

} // namespace

Owners draw_owners(std::uint64_t seed) {
    sim::Draws draws(seed, "yard.owners");
    Owners owners = {Owner{LineKind::electric, {}},
                     {LineKind::gas, {}},
                     {LineKind::communication, {}},
                     {LineKind::water, {}},
                     {LineKind::sewer, sewer_owner}};
    for (std::size_t i = 0; i < owner_names.size(); ++i) {
        owners[i].name = owner_names[i][static_cast<std::size_t>(draws.integer(0, 1))];
    }
    return owners;
}

field::Ticket answer_ticket(const Site& site, const Owners& owners) {
    sim::Draws draws(site.seed, "yard.ticket");
    field::Ticket ticket;
    ticket.number = fmt::format("NV-{:07d}", draws.integer(1000000, 9999999));
    ticket.state = site.wanted.ticket_state.value_or(field::TicketState::cleared);
    ticket.responses = ask_owners(site, owners, draws);
    return ticket;
}

void paint_lines(Site& site, const field::Ticket& ticket) {
    sim::Draws draws(site.seed, "yard.paint");
    // The neighbour's owner may have missed it.
    const BuriedLine* unmarked =
        site.neighbour && !site.wanted.neighbour->marked ? &site.yard.lines[*site.neighbour] : nullptr;
    for (BuriedLine& line : site.yard.lines) {
        const auto answer = std::ranges::find(ticket.responses, line.owner, &field::OwnerResponse::owner);
        if (line.is_private || &line == unmarked) {
            continue;
        }
        if (answer != ticket.responses.end() && answer->answer == "marked") {
            line.paint_m = paint_along(site, line, draws);
        }
    }
}

} // namespace sondeyard::scenarios
