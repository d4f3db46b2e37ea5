#include "field/debrief.hpp"

#include <nlohmann/json.hpp>

namespace sondeyard::field {

namespace {

constexpr int json_format = 1;

using Json = nlohmann::ordered_json;

template <class T>
Json or_null(const std::optional<T>& value) {
    return value ? Json(*value) : Json(nullptr);
}

Json procedure_json(const Score& score) {
    Json procedure = Json::object();
    for (const ProcedureItem& item : score.procedure) {
        procedure[std::string(item.key)] = item.applies ? Json(item.done) : Json(nullptr);
    }
    return procedure;
}

Json evidence_json(const Score& score) {
    Json evidence = Json::object();
    for (const ProcedureItem& item : score.procedure) {
        evidence[std::string(item.key)] = {
            {"applies", item.applies}, {"tick", or_null(item.tick)}, {"seen", item.evidence}};
    }
    return evidence;
}

Json safety_json(const Score& score) {
    Json safety = Json::object();
    for (const SafetyItem& item : score.safety) {
        safety[std::string(item.key)] = {{"judged", item.judged}, {"failed", item.failed}, {"seen", item.evidence}};
    }
    return safety;
}

Json tilt_json(const TiltScore& tilt) {
    const bool has_raised_end = tilt.true_tilt_deg >= least_raised_deg;
    return {{"called", tilt.called},
            {"right", tilt.right},
            {"true_tilt_deg", tilt.true_tilt_deg},
            {"true_raised_heading_deg", has_raised_end ? Json(tilt.true_raised_heading_deg) : Json(nullptr)}};
}

// Null when nobody asked the cable hand.
Json cable_json(const LocatedSonde& located) {
    if (!located.asked) {
        return nullptr;
    }
    return {{"counted_at_stop", located.at_stop},
            {"counter_by_m", located.cable.out_m},
            {"sonde_by_m", located.cable.sonde_m},
            {"slack_m", located.slack_m}};
}

} // namespace

std::string score_json(const Score& score, int indent) {
    Json out;
    out["format"] = json_format;
    out["finished"] = score.finished;
    out["passed"] = score.passed;
    out["points"] = score.points;
    out["points_by_part"] = {{"position", score.position_points},
                             {"depth", score.depth_points},
                             {"tilt", score.tilt_points},
                             {"dig", score.dig_points},
                             {"procedure", score.procedure_points}};
    out["horizontal_error_m"] = or_null(score.horizontal_error_m);
    out["depth_error_m"] = or_null(score.depth_error_m);
    out["depth_error_percent"] = or_null(score.depth_error_percent);
    out["tilt_error_deg"] = or_null(score.tilt.tilt_error_deg);
    out["dig_outcome"] = name_of(score.dig_outcome);
    out["true_depth_m"] = score.true_depth_m;
    out["depth_at_mark_m"] = score.depth_at_mark_m;
    out["depth_call_m"] = or_null(score.depth_call_m);
    out["depth_within"] = score.depth_within;
    out["tilt"] = tilt_json(score.tilt);
    out["bands"] = {{"full_m", score.full_band_m},
                    {"half_m", score.half_band_m},
                    {"quarter_m", score.quarter_band_m},
                    {"depth_m", score.depth_band_m}};
    out["cable"] = cable_json(score.located);
    const bool dug = score.dig_outcome != DigOutcome::none;
    out["dig"] = {{"volume_m3", dug ? Json(score.dig_volume_m3) : Json(nullptr)},
                  {"target_distance_m", dug ? Json(score.target_distance_m) : Json(nullptr)},
                  {"target_gap_m", dug ? Json(score.target_gap_m) : Json(nullptr)},
                  {"pipe_top_depth_m", score.pipe_top_depth_m},
                  {"springline_depth_m", score.springline_depth_m},
                  {"deep", score.deep_dig},
                  {"by_machine", dug ? Json(score.by_machine) : Json(nullptr)},
                  {"line_in_box", score.line_hit.empty() ? Json(nullptr) : Json(score.line_hit)},
                  {"lines_in_tolerance", score.lines_in_box}};
    out["procedure"] = procedure_json(score);
    out["procedure_evidence"] = evidence_json(score);
    out["safety"] = safety_json(score);
    return out.dump(indent, ' ', false, Json::error_handler_t::replace);
}

} // namespace sondeyard::field
