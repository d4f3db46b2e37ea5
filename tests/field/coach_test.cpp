// The coach against exercises with a fault built in, and against others that come near to one and stay harmless: each
// finding where its fault is and nowhere else.
#include "field/coach.hpp"
#include "field/coach_case.hpp"
#include "scenarios/scenario.hpp"
#include "tests/field/empty_yard.hpp"
#include "tests/field/faulty_operators.hpp"
#include "tests/field/model_operator_runs.hpp"
#include "tests/field/near_limit_operators.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <glm/geometric.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <map>
#include <set>

using namespace sondeyard;
using namespace sondeyard::field;
using sondeyard::test::Faulty;

namespace {

// What every finding has to be: with figures in its evidence, something to do, a question with one right answer of
// three, and not a word about the person.
std::string faults_of(const Finding& f) {
    std::string text;
    const auto say = [&](bool wrong, std::string_view what) {
        text += wrong ? fmt::format("{}: {}; ", f.key, what) : "";
    };
    const std::set<std::string> options(f.question.options.begin(), f.question.options.end());
    say(std::ranges::find(finding_keys(), f.key) == finding_keys().end(), "unknown key");
    say(f.title.empty() || f.title.size() > 72, "title");
    say(f.evidence.find_first_of("0123456789") == std::string::npos, "no figure in " + f.evidence);
    say(!f.evidence.ends_with('.') || !f.next_time.ends_with('.'), "no full stop");
    say(f.next_time.empty(), "nothing to do");
    say(!f.tick && !f.place_m, "neither time nor place");
    say(f.points < 0.0 || f.points > 100.0, "points");
    say(options.size() != 3 || f.question.right >= 3 || !f.question.ask.ends_with('?'), "question");
    std::string all = f.title + f.evidence + f.next_time + f.question.ask;
    for (const std::string& option : f.question.options) {
        all += option;
    }
    for (const char* word : {" you ", "You ", "your", "careless", "trainee", "{", "}", "nan", "  "}) {
        say(all.find(word) != std::string::npos, fmt::format("\"{}\" in {}", word, all));
    }
    return text;
}

// The limits in field/coach_limits.hpp were set on seeds 1 to 60, and seeds from 101 on were looked at while labels were
// put right; these were not looked at for either.
constexpr std::uint64_t held_out_from = 60001;

std::uint64_t first_seed() {
    const char* given = std::getenv("SONDEYARD_COACH_FIRST_SEED"); // for setting limits
    return given != nullptr ? std::strtoull(given, nullptr, 10) : held_out_from;
}

struct Tally {
    int right = 0;
    int false_alarms = 0;
    int missed = 0;
    int near_misses = 0; // exercises that came near to it and were not to be told so
    int said_near = 0;   // and were
    double precision() const {
        return right + false_alarms == 0 ? 1.0 : static_cast<double>(right) / (right + false_alarms);
    }
    double recall() const { return right + missed == 0 ? 1.0 : static_cast<double>(right) / (right + missed); }
    std::string text(std::string_view name) const {
        return fmt::format("{:<20} {:>5} {:>6} {:>6}   {:>8.3f} {:>8.3f} {:>6} {:>5}\n", name, right, false_alarms,
                           missed, precision(), recall(), near_misses, said_near);
    }
};

struct Trial {
    std::map<std::string_view, Tally> by_key;
    Tally all;
    int exercises = 0;
    int faultless = 0;
    std::string mistakes;

    static bool good(const Tally& tally) { return tally.precision() >= 0.9 && tally.recall() >= 0.9; }

    void add(const Setting& setting, Faulty one) {
        const Notebook& notebook = one.state.notebook;
        if (find_last(notebook, MarkKind::locate) == nullptr || !notebook.depth_call_m ||
            notebook.tilt_call == TiltCall::none || !notebook.dig || notebook.dig->depth_m <= 0.0 ||
            !one.state.ticket_read_tick || one.state.truck_checks.empty()) {
            one.built_in.insert("not_called");
        }
        ++exercises;
        faultless += one.built_in.empty() ? 1 : 0;
        std::set<std::string_view> said;
        const std::vector<Finding> found = coach(setting, one.state, score(setting, one.state));
        CHECK(std::ranges::is_sorted(found, std::greater{}, &Finding::points));
        for (const Finding& f : found) {
            CHECK(faults_of(f).empty());
            CHECK(said.insert(f.key).second);
            const bool is = one.built_in.contains(f.key);
            count(f.key, is ? &Tally::right : &Tally::false_alarms);
            if (!is) {
                mistakes += fmt::format("{}: said {}: {}\n", one.what, f.key, f.evidence);
            }
        }
        for (const std::string_view key : one.innocent) {
            count(key, &Tally::near_misses);
            if (said.contains(key)) {
                count(key, &Tally::said_near);
            }
        }
        for (const std::string_view key : one.built_in) {
            if (!said.contains(key)) {
                count(key, &Tally::missed);
                mistakes += fmt::format("{}: did not say {}\n", one.what, key);
            }
        }
    }
    void count(std::string_view key, int Tally::* what) {
        ++(by_key[key].*what);
        ++(all.*what);
    }
};

Setting setting_of(std::string_view scenario, std::uint64_t seed) {
    return Setting(scenarios::resolve(scenarios::bundled(scenario), seed));
}

void print(std::string_view title, const Trial& trial) {
    std::string text = fmt::format("{}\n{:<20} {:>5} {:>6} {:>6}   {:>8} {:>8} {:>6} {:>5}\n", title, "finding",
                                   "right", "false", "missed", "precision", "recall", "near", "said");
    for (const std::string_view key : finding_keys()) {
        const auto found = trial.by_key.find(key);
        text += (found == trial.by_key.end() ? Tally{} : found->second).text(key);
    }
    text += trial.all.text("all");
    text += fmt::format("{} exercises, {} of them without a fault that cost anything\n{}", trial.exercises,
                        trial.faultless, trial.mistakes);
    MESSAGE(text);
}

} // namespace

TEST_CASE("coach: findings against faults built in, precision and recall of each") {
    Trial trial;
    const std::uint64_t seed = first_seed();
    const int count = test::seeds(6, 1);
    const auto try_all = [&](const char* scenario, std::uint64_t with) {
        const Setting setting = setting_of(scenario, with);
        for (const Faulty& one : test::worked_with_faults(setting, fmt::format("{}, {}", scenario, with))) {
            trial.add(setting, one);
        }
    };
    for (int i = 0; i < count; ++i) {
        for (const char* scenario : {"level-lawn", "two-percent", "steep-branch", "two-pipes", "slope", "on-end"}) {
            try_all(scenario, seed + static_cast<std::uint64_t>(i));
        }
    }
    for (const char* scenario : {"deep", "iron-pipe", "bank", "hum-overhead", "wet-clay", "isolated-line",
                                 "line-across", "stop-in-the-drop", "clay-line-bank"}) {
        try_all(scenario, seed);
    }
    for (int i = 0; i < count; ++i) {
        const std::uint64_t s = seed + static_cast<std::uint64_t>(i);
        const Setting coil = setting_of("single-coil", s);
        trial.add(coil, test::stops_at_ghost(coil, fmt::format("single-coil, {}: ghost", s), false));
        trial.add(coil, test::stops_at_ghost(coil, fmt::format("single-coil, {}: side peak", s), true));
        const bool upright = i % 2 == 1;
        trial.add(coil, test::stops_at_ghost(coil, fmt::format("single-coil, {}: short of it", s), upright, true));
        for (const char* scenario : {"other-crew", "clamped-line", "other-frequency"}) {
            const Setting loud = setting_of(scenario, s);
            trial.add(loud, test::marks_neighbour(loud, fmt::format("{}, {}: neighbour", scenario, s)));
            if (i < 2) {
                trial.add(loud, test::marks_neighbour(loud, fmt::format("{}, {}: clear of it", scenario, s), true));
            }
        }
        const Setting changed = setting_of("wrong-frequency", s);
        trial.add(changed, test::never_checks(changed, fmt::format("wrong-frequency, {}: by the sheet", s)));
        const Setting lawn = setting_of("level-lawn", s);
        trial.add(lawn, test::sweeps_fast(lawn, fmt::format("level-lawn, {}: sweeps", s)));
        trial.add(lawn, test::marks_at_once(lawn, fmt::format("level-lawn, {}: at once", s)));
    }
    for (const char* scenario : {"single-coil", "twin-coil", "slab-edge", "deep-and-noisy", "wide-or-narrow"}) {
        const Setting setting = setting_of(scenario, seed);
        trial.add(setting,
                  {fmt::format("{}, {}: level-line", scenario, seed), test::operate(setting, "level-line"), {}});
    }
    for (int i = 0; i < count; ++i) { // climbs to the peak, reads once, marks there
        for (const char* scenario : {"two-percent", "two-pipes", "steep-branch"}) {
            const std::uint64_t s = seed + static_cast<std::uint64_t>(i);
            const Setting setting = setting_of(scenario, s);
            Faulty one{fmt::format("{}, {}: follows-peak", scenario, s),
                       test::operate(setting, "follows-peak"),
                       {"one_reading"}};
            const Mark* locate = find_last(one.state.notebook, MarkKind::locate);
            const double band_m = setting.world.rubric.full.width_m(depth_m(setting.world));
            if (locate != nullptr && glm::distance(locate->place_m, plan(setting.world.sonde.position_m)) > band_m) {
                one.built_in.insert("trusted_peak");
            }
            trial.add(setting, one);
        }
    }
    for (const char* scenario : {"other-crew", "stop-in-the-drop", "steep-branch"}) {
        const Setting setting = setting_of(scenario, seed);
        trial.add(setting, {fmt::format("{}, {}: pull-back", scenario, seed), test::operate(setting, "pull-back"), {}});
    }
    Trial near; // a limit each, drawn on both sides of it
    for (int i = 0; i < count; ++i) {
        test::work_near_limits(seed + static_cast<std::uint64_t>(i), [&](const Setting& setting, const Faulty& one) {
            trial.add(setting, one);
            near.add(setting, one);
        });
    }
    print("All exercises", trial);
    print("Of these, those drawn on both sides of one limit", near);
    CHECK(Trial::good(trial.all));
    CHECK(Trial::good(near.all));
    for (const std::string_view key : finding_keys()) {
        CAPTURE(key);
        REQUIRE(trial.by_key.contains(key));
        CHECK(trial.by_key[key].right >= test::seeds(4, 1));
        CHECK(trial.by_key[key].near_misses >= test::seeds(4, 1));
        CHECK(trial.by_key[key].precision() >= 0.9);
        CHECK(trial.by_key[key].recall() >= 0.9);
    }
}

// tests/reference/locate_facts.csv and its closed forms, depth 1: plumb points (-3T +- sqrt(9T^2+8))/4, level line
// (3 - sqrt(9+8T^2))/(2T), the peak of |B|; ghosts of a level coil at 1.2247, side peaks of an upright one at 0.5.
TEST_CASE("coach: where the spots of a sonde lie, against the closed forms") {
    struct Row {
        double tilt_deg, plumb_behind, plumb_ahead, level, peak;
    };
    for (const Row& row : {Row{0.0, -0.7071, 0.7071, 0.0, 0.0}, Row{5.0, -0.776, 0.645, -0.058, 0.227},
                           Row{15.0, -0.936, 0.534, -0.176, 0.249}, Row{30.0, -1.262, 0.396, -0.360, 0.212}}) {
        CAPTURE(row.tilt_deg);
        const double depth = 1.55; // of the antenna 1.60 m
        const Setting setting(test::empty_yard(depth, 70.0, row.tilt_deg));
        const ExerciseState state = start(setting);
        const Score s = score(setting, state);
        const TrackSpots spots = coaching::make_case(setting, state, s, Units::metric).spots;
        const double d = spots.scale_m;
        const double near = 0.002 * d; // the table has three digits
        CHECK(d == doctest::Approx(1.60));
        CHECK(glm::distance(spots.ahead, direction_of(250.0)) < 1e-9); // the raised end, opposite to the heading
        REQUIRE((spots.plumb_ahead_m && spots.plumb_behind_m && spots.level_m));
        CHECK(std::abs(*spots.plumb_ahead_m - row.plumb_ahead * d) < near);
        CHECK(std::abs(*spots.plumb_behind_m - row.plumb_behind * d) < near);
        CHECK(std::abs(*spots.level_m - row.level * d) < near);
        CHECK(std::abs(spots.peak_m - row.peak * d) < near);
        if (row.tilt_deg == 0.0) {
            REQUIRE(spots.ghosts_m.size() == 2);
            REQUIRE(spots.side_peaks_m.size() == 2);
            CHECK(std::abs(std::abs(spots.ghosts_m.front()) - 1.2247 * d) < near);
            CHECK(std::abs(std::abs(spots.side_peaks_m.front()) - 0.5 * d) < near);
        }
    }
}

TEST_CASE("coach: nothing done, nothing found") {
    const Setting setting = setting_of("two-percent", 7);
    const ExerciseState state = start(setting);
    CHECK(coach(setting, state, score(setting, state)).empty()); // it is not finished, so nothing is left out yet
}

TEST_CASE("coach: in feet no metres are left, and the document for programs has all of a finding") {
    const Setting setting = setting_of("two-percent", 3);
    int seen = 0;
    for (const Faulty& one : test::worked_with_faults(setting, "")) {
        const Score s = score(setting, one.state);
        const std::vector<Finding> found = coach(setting, one.state, s, Units::feet);
        for (const Finding& f : found) {
            std::string all = f.evidence + f.next_time + f.question.ask;
            for (const std::string& option : f.question.options) {
                all += "|" + option;
            }
            all += ' ';
            for (const char* unit : {" m ", " m,", " m.", " m:", " m|", " cm"}) {
                CAPTURE(all);
                CHECK(all.find(unit) == std::string::npos);
            }
            ++seen;
        }
        const nlohmann::ordered_json document = findings_json(found);
        REQUIRE(document.size() == found.size());
        for (std::size_t i = 0; i < found.size(); ++i) {
            CHECK(document[i]["key"] == found[i].key);
            CHECK(document[i]["evidence"] == found[i].evidence);
            CHECK(document[i]["question"]["options"].size() == 3);
        }
    }
    CHECK(seen >= 8);
}
