#include "ui/cli/commands.hpp"

#include "field/coach.hpp"
#include "field/debrief.hpp"
#include "field/files.hpp"
#include "field/known.hpp"
#include "field/lengths.hpp"
#include "field/model_operator.hpp"
#include "field/replay.hpp"
#include "scenarios/lesson.hpp"
#include "scenarios/log_header.hpp"
#include "sim/random.hpp"
#include "ui/cli/text.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <iterator>
#include <utility>

namespace sondeyard::ui {

namespace {

using Json = nlohmann::ordered_json;
namespace fs = std::filesystem;

void print_json(const Json& document) { fmt::print("{}\n", document.dump(2)); }

} // namespace

// ---- probe ----

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

std::vector<glm::dvec3> read_points(const fs::path& path) {
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

// ---- generate, check, list ----

namespace {

// A yard of any kind: the shapes that the bundled exercises teach, drawn by the seed.
scenarios::Scenario any_scenario(std::uint64_t seed) {
    sim::Draws draws(seed, "generate.any");
    static constexpr std::array<std::string_view, 4> shapes = {"fall", "fall", "steep_branch", "drop"};
    const std::string_view shape = shapes[static_cast<std::size_t>(draws.integer(0, 3))];
    const std::string_view material = draws.chance(0.5) ? "pvc" : "clay";
    const std::string text =
        fmt::format("format = 1\ntitle = \"A yard drawn by seed {}\"\n"
                    "[sonde]\nfrequency_hz = {{ choice = [512, 640] }}\nmoment_A_m2 = {{ uniform = [0.05, 0.2] }}\n"
                    "depth_m = {{ uniform = [0.8, 2.5] }}\n"
                    "[run]\nshape = \"{}\"\nmaterial = \"{}\"\n",
                    seed, shape, material);
    return scenarios::parse_scenario(text, "any yard");
}

} // namespace

int generate(const GenerateOptions& options) {
    const scenarios::Scenario scenario =
        options.scenario ? scenarios::find_scenario(*options.scenario) : any_scenario(options.seed);
    const std::string toml = scenarios::to_toml(scenarios::resolve(scenario, options.seed));
    if (options.out) {
        if (options.out->empty()) {
            throw BadInput("--out: found an empty name; a file name is wanted");
        }
        field::write_new_file(*options.out, toml);
    }
    if (options.json) {
        print_json({{"scenario", scenario.name()},
                    {"seed", options.seed},
                    {"out", options.out ? Json(options.out->string()) : Json()},
                    {"sha256", field::sha256_hex(toml)},
                    {"toml", toml}});
    } else if (options.out) {
        fmt::print("{}: written, {} bytes\n", options.out->string(), toml.size());
    } else {
        fmt::print("{}", toml);
    }
    return 0;
}

namespace {

// A lesson by its name or, a file, by what it says it is.
bool names_lesson(const std::string& name) {
    std::error_code error;
    if (fs::is_regular_file(name, error)) {
        try {
            return scenarios::is_lesson(field::read_file(name, 1'000'000, "a lesson file"));
        } catch (const field::FileError&) {
            return false; // what is wrong with it is said by whoever reads it as a scenario
        }
    }
    const auto lessons = scenarios::bundled_lesson_names();
    return std::ranges::find(lessons, name) != lessons.end();
}

struct Checked {
    std::string title;
    std::vector<std::string> faults;       // the file's own: with these nothing can be built at any seed
    std::vector<std::string> cannot_build; // seeds for which nothing can be built, when others can
};

// A lesson's two yards, each with its own seed.
Checked checked_lesson(const std::string& name) {
    Checked result;
    try {
        const scenarios::LessonFile file = scenarios::find_lesson(name);
        result.title = file.lesson.title;
        scenarios::resolve(file.yard, file.seed);
        scenarios::resolve(file.test_yard, file.test_seed);
    } catch (const scenarios::ScenarioError& e) {
        result.faults = e.messages;
    }
    return result;
}

Checked checked(const std::string& name, int seeds) {
    Checked result;
    try {
        const scenarios::Scenario scenario = scenarios::find_scenario(name);
        result.title = scenario.title();
        std::vector<std::string> first;
        for (int seed = 1; seed <= seeds; ++seed) {
            try {
                scenarios::resolve(scenario, static_cast<std::uint64_t>(seed));
            } catch (const scenarios::ScenarioError& e) {
                const std::string what = e.what(); // most of them name the seed themselves
                result.cannot_build.push_back(
                    what + (what.find("seed") == std::string::npos ? fmt::format(" (seed {})", seed) : ""));
                if (first.empty()) {
                    first = e.messages;
                }
            }
        }
        if (static_cast<int>(result.cannot_build.size()) == seeds) {
            result.faults = std::move(first);
            result.cannot_build.clear();
        }
    } catch (const scenarios::ScenarioError& e) {
        result.faults = e.messages;
    }
    return result;
}

void print_checked(const std::string& name, const Checked& c, int seeds) {
    constexpr std::size_t most_seeds_said = 5;
    if (c.faults.empty() && c.cannot_build.empty()) {
        fmt::print("sound  {}: {} ({} seed{} built)\n", name, c.title, seeds, seeds == 1 ? "" : "s");
    }
    for (const std::string& message : c.faults) {
        fmt::print(stderr, "sondeyard: {}\n", message);
    }
    for (std::size_t i = 0; i < std::min(c.cannot_build.size(), most_seeds_said); ++i) {
        fmt::print(stderr, "sondeyard: {}\n", c.cannot_build[i]);
    }
    if (!c.cannot_build.empty()) {
        fmt::print(stderr, "sondeyard: {}: {} of {} seeds cannot be built\n", name, c.cannot_build.size(), seeds);
    }
}

} // namespace

int check(const CheckOptions& options) {
    Json rows = Json::array();
    int code = 0;
    for (const std::string& name : options.scenarios) {
        const bool lesson = names_lesson(name);
        const int seeds = lesson ? 2 : options.seeds;
        const Checked c = lesson ? checked_lesson(name) : checked(name, seeds);
        const bool sound = c.faults.empty() && c.cannot_build.empty();
        code = std::max(code, !c.faults.empty() ? 2 : (sound ? 0 : 1));
        if (options.json) {
            rows.push_back({{"scenario", name},
                            {"title", c.title},
                            {"sound", sound},
                            {"faults", c.faults},
                            {"lesson", lesson},
                            {"seeds_tried", seeds},
                            {"cannot_build", c.cannot_build}});
        } else {
            print_checked(name, c, seeds);
        }
    }
    if (options.json) {
        print_json({{"sound", code == 0}, {"scenarios", rows}});
    }
    return code;
}

int list_scenarios(bool json) {
    Json rows = Json::array();
    for (const std::string& name : scenarios::bundled_names()) {
        const scenarios::Scenario scenario = scenarios::bundled(name);
        if (json) {
            rows.push_back({{"name", name},
                            {"title", scenario.title()},
                            {"news", field::in_units(scenario.news(), field::Units::metric)}});
        } else {
            constexpr std::size_t indent = 17;
            fmt::print("{:<{}}{}\n{:<{}}{}\n", name, indent, scenario.title(), "", indent,
                       wrapped(field::in_units(scenario.news(), field::Units::metric), indent));
        }
    }
    if (json) {
        print_json({{"scenarios", rows}});
    }
    return 0;
}

int list_lessons(bool json) {
    Json rows = Json::array();
    for (const std::string& name : scenarios::bundled_lesson_names()) {
        const field::CourseLesson lesson = scenarios::bundled_lesson(name).lesson;
        if (json) {
            rows.push_back({{"name", name},
                            {"title", lesson.title},
                            {"goal", field::in_units(lesson.goal, field::Units::metric)},
                            {"steps", lesson.steps.size()},
                            {"test", field::in_units(lesson.test.task, field::Units::metric)}});
        } else {
            constexpr std::size_t indent = 17;
            fmt::print("{:<{}}{}\n{:<{}}{}\n", name, indent, lesson.title, "", indent,
                       wrapped(field::in_units(lesson.goal, field::Units::metric), indent));
        }
    }
    if (json) {
        print_json({{"lessons", rows}});
    }
    return 0;
}

// ---- replay, score, operate ----

namespace {

struct Replayed {
    field::WorkLog log;
    field::Setting setting;
    field::ReplayResult result;
};

Replayed replayed(const fs::path& path) {
    field::WorkLog log = field::read_log(path);
    field::Setting setting(scenarios::world_of(log.header, path.string()));
    field::ReplayResult result = field::replay(setting, log);
    return {std::move(log), std::move(setting), std::move(result)};
}

// What is wrong with a log, if anything: where it was cut or altered, where the replay differs.
std::vector<std::string> doubts(const Replayed& r) {
    std::vector<std::string> all;
    if (!r.log.fault.empty()) {
        all.push_back(r.log.fault);
    }
    if (r.result.first_difference) {
        std::string what = r.result.first_difference->what;
        if (r.log.header.program != SONDEYARD_VERSION) {
            what += fmt::format(" (the log was written by version {}, this is {}: they need not agree)",
                                r.log.header.program, SONDEYARD_VERSION);
        }
        all.push_back(std::move(what));
    }
    return all;
}

void print_row(std::size_t indent, const std::string& head, std::string_view text) {
    fmt::print("{:<{}}{}\n", head, indent, wrapped(text, indent));
}

void print_score(const field::Setting& setting, const field::ExerciseState& state, const field::Score& s,
                 field::Units units) {
    const field::Debrief d = field::debrief(setting, state, s, units);
    constexpr std::size_t figure_indent = 12;
    constexpr std::size_t item_indent = 31;
    constexpr std::size_t lesson_indent = 19;
    fmt::print("{}\n{}\n\n", setting.world.sheet.title, wrapped(d.hole, 0));
    print_row(figure_indent, "points", fmt::format("{} of 100, {}", s.points, s.passed ? "passed" : "not passed"));
    for (const field::Figure& f : d.figures) {
        print_row(figure_indent, f.title, fmt::format("{}{} [{}]", f.good ? "" : "* ", f.value, f.tolerance));
    }
    fmt::print("In brackets: what counts as good. *: missed.\n\n");
    for (const field::ProcedureItem& item : s.procedure) {
        const std::string_view done = !item.applies ? "-" : (item.done ? "yes" : "no");
        print_row(item_indent, fmt::format("{:<5}{}", done, item.key), item.evidence);
    }
    for (const field::SafetyItem& item : s.safety) {
        print_row(item_indent, fmt::format("{:<5}{}", item.failed ? "FAIL" : "ok", item.key), item.evidence);
    }
    fmt::print("\n");
    for (const std::string& note : d.notes) {
        print_row(2, "-", note);
    }
    fmt::print("\nWhat could be known\n");
    for (const std::string& sentence : field::known_sentences(field::what_could_be_known(setting, state, s))) {
        print_row(2, "-", sentence);
    }
    if (!d.lesson.empty()) {
        fmt::print("\nIn this yard\n");
        for (const field::LessonPart& part : d.lesson) {
            print_row(lesson_indent, part.title, part.text);
        }
        fmt::print("\n");
    }
    fmt::print("{}\n", wrapped(d.disclaimer, 0));
}

// A document for programs is in metres whatever was asked for.
template <typename Options>
field::Units said_in(const Options& options) {
    return options.json ? field::Units::metric : options.units;
}

// What explains it, most first; a shorter list than a program gets.
void print_findings(const std::vector<field::Finding>& findings) {
    if (findings.empty()) {
        return;
    }
    constexpr std::size_t indent = 11;
    fmt::print("\nFindings, those that can have cost most first; the same points may stand with several\n");
    for (std::size_t i = 0; i < std::min(findings.size(), field::findings_shown); ++i) {
        const field::Finding& f = findings[i];
        const std::string points = fmt::format("{:3.0f} points", f.points);
        print_row(indent, points, f.title);
        print_row(indent, f.tick ? fmt::format("  {:>7}", field::clock_text(*f.tick)) : std::string(), f.evidence);
        print_row(indent, "  next", f.next_time);
    }
    if (findings.size() > field::findings_shown) {
        fmt::print("and {} more (--json has all)\n", findings.size() - field::findings_shown);
    }
}

// None of work that was not finished.
std::vector<field::Finding> findings_of(const field::Setting& setting, const field::ExerciseState& state,
                                        const field::Score& s, field::Units units = field::Units::metric) {
    return state.finished_tick ? field::coach(setting, state, s, units) : std::vector<field::Finding>{};
}

// The score, what could be known and what was found, as one document.
Json score_document(const field::Setting& setting, const field::ExerciseState& state, const field::Score& s) {
    Json document = Json::parse(field::score_json(s));
    document["known"] = Json::parse(field::known_json(field::what_could_be_known(setting, state, s)));
    document["findings"] = field::findings_json(findings_of(setting, state, s));
    return document;
}

Json lesson_json(const field::Lesson& lesson) {
    const auto text = [](const std::string& words) { return field::in_units(words, field::Units::metric); };
    return {{"different", text(lesson.different)}, {"tell", text(lesson.tell)}, {"act", text(lesson.act)}};
}

void print_doubts(const std::vector<std::string>& all) {
    for (const std::string& line : all) {
        fmt::print(stderr, "sondeyard: {}\n", line);
    }
}

} // namespace

int replay(const LogOptions& options) {
    const Replayed r = replayed(options.log);
    const std::vector<std::string> why = doubts(r);
    const double seconds = static_cast<double>(r.result.ticks) * field::tick_s;
    const field::Units units = said_in(options);
    const field::Score scored = field::score(r.setting, r.result.state, units);
    const std::vector<field::Finding> findings = findings_of(r.setting, r.result.state, scored, units);
    const field::WhatCouldBeKnown known = field::what_could_be_known(r.setting, r.result.state, scored);
    if (options.json) {
        print_json(
            {{"log", options.log.string()},
             {"agrees", !r.result.first_difference.has_value()},
             {"sound", why.empty()},
             {"ticks", r.result.ticks},
             {"seconds", seconds},
             {"checkpoints", r.result.checkpoints},
             {"finished", r.result.state.finished_tick.has_value()},
             {"first_difference_tick", r.result.first_difference ? Json(r.result.first_difference->tick) : Json()},
             {"faults", why},
             {"findings", field::findings_json(findings)},
             {"known", Json::parse(field::known_json(known))},
             {"digest", fmt::format("{:016x}", r.result.state.digest)}});
    } else {
        fmt::print("{}: {}, seed {}\n{:.1f} s of work ({} ticks), {}\n", options.log.string(),
                   r.setting.world.sheet.title, r.log.header.seed, seconds, r.result.ticks,
                   r.result.state.finished_tick ? "finished" : "not finished");
        fmt::print("{} checkpoints compared, {}\n", r.result.checkpoints,
                   r.result.first_difference ? "and the replay differs" : "all agree");
        print_findings(findings);
        for (const std::string& sentence : field::known_sentences(known, units)) {
            print_row(2, "-", sentence);
        }
        print_doubts(why);
    }
    return why.empty() ? 0 : 1;
}

int score(const LogOptions& options) {
    const Replayed r = replayed(options.log);
    const std::vector<std::string> why = doubts(r);
    const field::Score s = field::score(r.setting, r.result.state, said_in(options));
    if (options.json) {
        Json document = score_document(r.setting, r.result.state, s);
        document["log"] = options.log.string();
        document["lesson"] = lesson_json(r.setting.world.lesson);
        document["log_sound"] = why.empty();
        document["log_faults"] = why;
        print_json(document);
    } else {
        print_score(r.setting, r.result.state, s, options.units);
        print_findings(findings_of(r.setting, r.result.state, s, options.units));
        print_doubts(why);
    }
    return why.empty() ? 0 : 1;
}

int operate(const OperateOptions& options) {
    const field::Setting setting(scenarios::resolve(scenarios::find_scenario(options.scenario), options.seed));
    const auto who = field::make_model_operator(options.who, setting.brief);
    if (!who) {
        throw BadInput(fmt::format("--operator: found \"{}\"; allowed: {}", options.who,
                                   fmt::join(field::model_operator_names(), ", ")));
    }
    std::optional<field::LogWriter> log;
    if (options.log) {
        log.emplace(*options.log, scenarios::log_header(setting.world, SONDEYARD_VERSION));
    }
    constexpr std::int64_t half_an_hour = 30 * 60 * 60;
    const auto record = [&log](const field::Action& action, const field::Observation& seen,
                               const field::ExerciseState& state) {
        if (log) {
            log->record(action, seen, state);
        }
    };
    const field::ExerciseState state = field::operate(setting, *who, half_an_hour, record);
    if (log) {
        log->end(state);
        if (!log->broken().empty()) {
            throw BadInput(fmt::format("{}: {}", options.log->string(), log->broken()));
        }
    }
    const field::Score s = field::score(setting, state, said_in(options));
    if (options.json) {
        Json document = score_document(setting, state, s);
        document["scenario"] = options.scenario;
        document["seed"] = options.seed;
        document["operator"] = options.who;
        document["lesson"] = lesson_json(setting.world.lesson);
        document["log"] = options.log ? Json(options.log->string()) : Json();
        document["seconds"] = static_cast<double>(state.tick) * field::tick_s;
        print_json(document);
    } else {
        fmt::print("{} worked \"{}\", seed {}, in {:.0f} s.\n", options.who, options.scenario, options.seed,
                   static_cast<double>(state.tick) * field::tick_s);
        print_score(setting, state, s, options.units);
    }
    return 0;
}

} // namespace sondeyard::ui
