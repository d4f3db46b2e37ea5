#include "field/progress.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace sondeyard::field {

namespace {

// Length of the UTF-8 sequence at the front (1 to 4), or 0 when it is none: RFC 3629, overlong forms and surrogates
// left out.
std::size_t sequence_at(std::string_view text) {
    const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
    const unsigned char first = byte(0);
    const std::size_t n = first < 0x80   ? 1
                          : first < 0xC2 ? 0
                          : first < 0xE0 ? 2
                          : first < 0xF0 ? 3
                          : first < 0xF5 ? 4
                                         : 0;
    if (n == 0 || n > text.size()) {
        return 0;
    }
    for (std::size_t i = 1; i < n; ++i) {
        if ((byte(i) & 0xC0) != 0x80) {
            return 0;
        }
    }
    const bool overlong = n > 2 && ((first == 0xE0 && byte(1) < 0xA0) || (first == 0xF0 && byte(1) < 0x90));
    const bool outside = n > 2 && ((first == 0xED && byte(1) > 0x9F) || (first == 0xF4 && byte(1) > 0x8F));
    return overlong || outside ? 0 : n;
}

bool is_control(std::string_view sequence) {
    const auto first = static_cast<unsigned char>(sequence[0]);
    const bool c1 = sequence.size() == 2 && first == 0xC2 && static_cast<unsigned char>(sequence[1]) < 0xA0;
    return first < 0x20 || first == 0x7F || c1;
}

} // namespace

std::string checked_name(std::string_view name) {
    const std::size_t begin = std::min(name.find_first_not_of(' '), name.size());
    name = name.substr(begin, name.find_last_not_of(' ') + 1 - begin);
    if (name.empty()) {
        throw ProgressError("a name is missing; allowed: 1 to 80 characters");
    }
    std::size_t characters = 0;
    for (std::string_view left = name; !left.empty(); ++characters) {
        const std::size_t n = sequence_at(left);
        if (n == 0 || is_control(left.substr(0, n))) {
            throw ProgressError("the name has bytes that are no writing; allowed: UTF-8 without control characters");
        }
        left.remove_prefix(n);
    }
    if (characters > longest_name) {
        throw ProgressError(fmt::format("the name has {} characters; allowed: 1 to {}", characters, longest_name));
    }
    return std::string(name);
}

Attempt attempt_of(const Score& score, const ExerciseState& state) {
    Attempt a;
    a.points = score.points;
    a.passed = score.passed;
    a.parts = PartPoints{score.position_points, score.depth_points, score.tilt_points, score.dig_points,
                         score.procedure_points};
    a.error_m = score.horizontal_error_m;
    if (score.horizontal_error_m && score.true_depth_m > 0.0) {
        a.error_share = *score.horizontal_error_m / score.true_depth_m;
    }
    a.depth_error_m = score.depth_error_m;
    if (score.tilt.called) {
        a.tilt_right = score.tilt.right;
    }
    a.duration_s = static_cast<double>(state.tick) / 60.0;
    for (const ProcedureItem& item : score.procedure) {
        if (item.applies && !item.done) {
            a.missed.emplace_back(item.key);
        }
    }
    return a;
}

namespace {

std::string cell(std::string_view text) {
    const bool formula = !text.empty() && std::string_view("=+-@\t\r").find(text[0]) != std::string_view::npos;
    std::string guarded = formula ? "'" + std::string(text) : std::string(text);
    if (guarded.find_first_of(",\"\r\n") == std::string::npos) {
        return guarded;
    }
    std::string quoted = "\"";
    for (const char c : guarded) {
        quoted += c == '"' ? "\"\"" : std::string(1, c);
    }
    return quoted + '"';
}

std::string number(const std::optional<double>& value, int places) {
    return value ? fmt::format("{:.{}f}", *value, places) : std::string();
}

std::string joined(const std::vector<std::string>& keys) { return fmt::format("{}", fmt::join(keys, " ")); }

std::string points_of_parts(const std::optional<PartPoints>& parts) {
    return parts
               ? fmt::format("{},{},{},{},{}", parts->position, parts->depth, parts->tilt, parts->dig, parts->procedure)
               : std::string(4, ',');
}

} // namespace

std::string progress_csv(std::string_view person, std::span<const Attempt> attempts) {
    std::string csv = "person,date,exercise,seed,points,passed,position_points,depth_points,tilt_points,dig_points,"
                      "procedure_points,error_m,error_share_of_depth,depth_error_m,tilt_right,duration_s,missed,"
                      "findings,log\r\n";
    for (const Attempt& a : attempts) {
        csv += fmt::format("{},{},{},{},{},{},{},{},{},{},{},{},{},{},{}\r\n", cell(person), cell(a.date),
                           cell(a.exercise), a.seed, a.points, a.passed ? "yes" : "no", points_of_parts(a.parts),
                           number(a.error_m, 3), number(a.error_share, 4), number(a.depth_error_m, 3),
                           a.tilt_right ? (*a.tilt_right ? "yes" : "no") : "", number(a.duration_s, 1),
                           cell(joined(a.missed)), cell(a.findings ? joined(*a.findings) : std::string()), cell(a.log));
    }
    return csv;
}

} // namespace sondeyard::field
