// sondeyard probe: the true field at places of a file.
#include "field/exercise.hpp"
#include "field/files.hpp"
#include "scenarios/scenario.hpp"
#include "ui/cli/commands.hpp"
#include "ui/cli/print.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <iterator>
#include <utility>

namespace sondeyard::ui {

namespace {

std::string_view trimmed(std::string_view text) {
    constexpr std::string_view blank = " \t\r";
    const auto first = text.find_first_not_of(blank);
    return first == std::string_view::npos ? std::string_view{}
                                           : text.substr(first, text.find_last_not_of(blank) - first + 1);
}

constexpr std::array<std::string_view, 3> columns = {"x_m", "y_m", "z_m"};
constexpr double farthest_m = 1e6;
constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF"; // spreadsheets put one before UTF-8

std::string without_blanks(std::string_view line) {
    std::string text(line);
    std::erase_if(text, [](char c) { return c == ' ' || c == '\t'; });
    return text;
}

// As it was found, for a message: cut short, and nothing that would upset a terminal.
std::string shown(std::string_view text) {
    std::string out;
    for (const char c : text.substr(0, 60)) {
        out += c >= ' ' && c <= '~' ? c : '?';
    }
    return out;
}

glm::dvec3 point_of(std::string_view line, std::string_view where) {
    const std::string_view whole = line;
    glm::dvec3 point{0.0};
    for (int column = 0; column < 3; ++column) {
        const auto comma = line.find(',');
        if ((comma == std::string_view::npos) != (column == 2)) {
            throw BadInput(fmt::format("{}: found \"{}\"; allowed: three numbers x_m,y_m,z_m", where, shown(whole)));
        }
        const std::string_view cell = trimmed(line.substr(0, comma));
        double value = 0.0;
        const auto [end, error] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
        if (error != std::errc{} || end != cell.data() + cell.size() || !std::isfinite(value) ||
            std::abs(value) > farthest_m) {
            throw BadInput(fmt::format("{}: {}: found \"{}\"; allowed: a number of metres from -1e6 to 1e6", where,
                                       columns[static_cast<std::size_t>(column)], shown(cell)));
        }
        point[column] = value;
        line.remove_prefix(comma == std::string_view::npos ? line.size() : comma + 1);
    }
    return point;
}

std::vector<glm::dvec3> read_points(const std::filesystem::path& path) {
    const std::string text = field::read_file(path, 64U << 20U, "a CSV file of places");
    std::vector<glm::dvec3> points;
    bool header = false;
    std::size_t number = 0;
    for (std::size_t at = text.starts_with(byte_order_mark) ? byte_order_mark.size() : 0; at < text.size();) {
        const std::size_t end = std::min(text.find('\n', at), text.size());
        const std::string_view line = trimmed(std::string_view(text).substr(at, end - at));
        at = end + 1;
        ++number;
        if (line.empty() || line.front() == '#') {
            continue;
        }
        const std::string where = fmt::format("{}:{}", path.string(), number);
        if (!std::exchange(header, true)) {
            if (without_blanks(line) != "x_m,y_m,z_m") {
                throw BadInput(
                    fmt::format("{}: found \"{}\"; allowed as the first line: x_m,y_m,z_m", where, shown(line)));
            }
            continue;
        }
        points.push_back(point_of(line, where));
    }
    if (!header) {
        throw BadInput(fmt::format("{}:1: found nothing; allowed as the first line: x_m,y_m,z_m", path.string()));
    }
    return points;
}

constexpr std::array<std::string_view, 9> probe_columns = {"x_m",     "y_m",     "z_m",     "bx_re_T", "bx_im_T",
                                                           "by_re_T", "by_im_T", "bz_re_T", "bz_im_T"};

} // namespace

int probe(const ProbeOptions& options) {
    const std::vector<glm::dvec3> points = read_points(options.points);
    const field::Setting setting(scenarios::resolve(scenarios::find_scenario(options.scenario), options.seed));
    const sim::Scene scene = field::scene_of(setting.world, setting.ground, setting.world.sonde);
    std::string csv = fmt::format("{}\n", fmt::join(probe_columns, ","));
    Json rows = Json::array();
    std::size_t too_near = 0;
    for (const glm::dvec3& p : points) {
        const sim::Phasor3 b = sim::emission_field_t(scene.emissions.front(), p);
        std::array<double, 9> row = {p.x, p.y, p.z, b.re.x, b.im.x, b.re.y, b.im.y, b.re.z, b.im.z};
        for (double& value : row) {
            value += 0.0; // -0 becomes 0
        }
        const glm::dvec3 r = p - setting.world.sonde.position_m;
        too_near += r.x * r.x + r.y * r.y + r.z * r.z < sim::closest_range_m * sim::closest_range_m ? 1U : 0U;
        if (options.json) {
            Json object;
            for (std::size_t i = 0; i < row.size(); ++i) {
                object[std::string(probe_columns[i])] = row[i];
            }
            rows.push_back(std::move(object));
        } else {
            fmt::format_to(std::back_inserter(csv), "{}\n", fmt::join(row, ","));
        }
    }
    if (too_near > 0) {
        fmt::print(
            stderr,
            "sondeyard: {} of the points lie within {} m of the sonde, where it is no dipole; they show the field at "
            "that distance\n",
            too_near, sim::closest_range_m);
    }
    if (options.json) {
        print_json({{"scenario", options.scenario},
                    {"seed", options.seed},
                    {"held_at_closest_range", too_near},
                    {"points", rows}});
    } else {
        fmt::print("{}", csv);
    }
    return 0;
}

} // namespace sondeyard::ui
