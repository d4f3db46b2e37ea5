// The coach's list: collected, put in order, written down for programs.
#include "field/coach.hpp"

#include "field/coach_case.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>

namespace sondeyard::field {

namespace {

// Causes before what they lead to: the order of findings that can have cost the same.
struct Row {
    std::string_view key;
    std::string_view words; // for a list of what comes back
};
constexpr auto rows = std::to_array<Row>({
    {"wrong_frequency", "work on a frequency that the sonde does not send"},
    {"coupling", "another source marked, not the sonde"},
    {"ghost_peak", "a ghost peak taken for the peak"},
    {"plumb_for_peak", "a plumb point marked as the peak"},
    {"peak_for_plumb", "the peak marked as a plumb point"},
    {"trusted_peak", "the peak of a tilted sonde taken for the sonde"},
    {"trusted_level_line", "the level line of a tilted sonde taken for the sonde"},
    {"trusted_midpoint", "the middle between a tilted sonde's plumb points taken for the sonde"},
    {"unproved_locate", "a locate that rests on nothing measured there"},
    {"too_fast", "the tip moved faster than the display follows"},
    {"tip_off_ground", "marks or readings with the tip off the ground"},
    {"read_beside", "the depth read beside the sonde"},
    {"mast_leaning", "readings with the mast leaning"},
    {"pair_ignored", "a facing pair that disagreed, and no third reading"},
    {"missed_plumb_point", "the second plumb point passed by"},
    {"one_reading", "the depth called from one side only"},
    {"tilt_not_called", "a tilt that the plumb points showed, not called"},
    {"tolerance_zone", "a machine dig in a tolerance zone"},
    {"no_clearance", "a machine dig without a cleared ticket"},
    {"not_called", "calls or papers left out"},
});
constexpr auto keys = [] {
    std::array<std::string_view, rows.size()> all{};
    std::ranges::transform(rows, all.begin(), &Row::key);
    return all;
}();

std::ptrdiff_t place_of(std::string_view key) { return std::ranges::find(keys, key) - keys.begin(); }

// Costs in other parts are no cost then, and a finding that has none left has nothing to explain.
void keep_what_was_asked(const ScoreParts& asked, std::vector<Finding>& found) {
    for (Finding& f : found) {
        f.cost.position = asked.position ? f.cost.position : 0.0;
        f.cost.depth = asked.depth ? f.cost.depth : 0.0;
        f.cost.tilt = asked.tilt ? f.cost.tilt : 0.0;
        f.cost.dig = asked.dig ? f.cost.dig : 0.0;
        f.cost.procedure = asked.procedure ? f.cost.procedure : 0.0;
        f.points = f.cost.total();
    }
    if (asked != ScoreParts{}) {
        std::erase_if(found, [](const Finding& f) { return f.points <= 0.0; });
    }
}

} // namespace

std::span<const std::string_view> finding_keys() { return keys; }

std::string_view finding_words(std::string_view key) {
    const auto at = static_cast<std::size_t>(place_of(key));
    return at < rows.size() ? rows[at].words : std::string_view();
}

std::size_t questions_of(const std::vector<Finding>& findings) {
    const auto small = std::ranges::find_if(findings, [](const Finding& f) { return f.points < asked_from_points; });
    return std::min(static_cast<std::size_t>(small - findings.begin()), findings_asked);
}

std::vector<Finding> coach(const Setting& setting, const ExerciseState& state, const Score& score, Units units,
                           const ScoreParts& asked) {
    const coaching::Case c = coaching::make_case(setting, state, score, units);
    std::vector<Finding> found;
    coaching::add_frequency_finding(c, found);
    const bool elsewhere = coaching::add_coupling_finding(c, found);
    coaching::add_mark_findings(c, elsewhere, found);
    coaching::add_unproved_locate(c, found);
    coaching::add_plumb_point_findings(c, found);
    coaching::add_speed_finding(c, found);
    coaching::add_depth_findings(c, found);
    coaching::add_tilt_finding(c, found);
    coaching::add_dig_findings(c, found);
    coaching::add_not_called(c, asked, found);
    keep_what_was_asked(asked, found);
    std::ranges::sort(found, {}, [](const Finding& f) { return std::pair{-f.points, place_of(f.key)}; });
    return found;
}

double points_explained(const std::vector<Finding>& findings, const Score& score, const ScoreParts& asked) {
    Cost most; // several may name the same points
    for (const Finding& f : findings) {
        most.position = std::max(most.position, f.cost.position);
        most.depth = std::max(most.depth, f.cost.depth);
        most.tilt = std::max(most.tilt, f.cost.tilt);
        most.dig = std::max(most.dig, f.cost.dig);
        most.procedure += f.cost.procedure;
    }
    most.procedure = std::min(most.procedure, static_cast<double>(full_procedure_points - score.procedure_points));
    return std::min(most.total(), static_cast<double>(points_lost(score, asked)));
}

nlohmann::ordered_json findings_json(const std::vector<Finding>& findings) {
    using Json = nlohmann::ordered_json;
    Json out = Json::array();
    for (const Finding& f : findings) {
        Json row = {{"key", f.key},
                    {"title", f.title},
                    {"evidence", f.evidence},
                    {"next_time", f.next_time},
                    {"points", f.points}};
        row["tick"] = f.tick ? Json(*f.tick) : Json(nullptr);
        row["place_m"] = f.place_m ? Json::array({f.place_m->x, f.place_m->y}) : Json(nullptr);
        row["question"] = {{"ask", f.question.ask}, {"options", f.question.options}, {"right", f.question.right}};
        out.push_back(std::move(row));
    }
    return out;
}

} // namespace sondeyard::field
