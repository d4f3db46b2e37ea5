// sondeyard tiltfix: what it takes, what it says, and how it refuses. The arithmetic is tested in tests/field.
#include "command_line_support.hpp"

using namespace sondeyard::test;

namespace {

// A sonde 1.5 m deep, 20 deg from level, its raised end towards B: spacing 1.5159 depths of the antenna
// (locate_facts.csv), 1.55 m below it; the weak signal .364 of the strong one, 8.78 dB.
const std::vector<std::string> at_20_deg = {"tiltfix", "--spacing", "2.350", "--depth", "1.487"};

std::vector<std::string> with(std::vector<std::string> words, const std::vector<std::string>& more) {
    words.insert(words.end(), more.begin(), more.end());
    return words;
}

} // namespace

TEST_CASE("tiltfix works out tilt, place and depth, in metres or in feet and inches") {
    const Folder folder;
    const Ran ran = run(folder, with(at_20_deg, {"--signal-a", "50.00", "--signal-b", "58.78", "--json"}));
    CHECK(ran.code == 0);
    const Json fix = ran.json();
    CHECK(fix["trusted"] == true);
    CHECK(fix["raised_side"] == "B");
    CHECK(fix["tilt_deg"]["value"].get<double>() == doctest::Approx(20.0).epsilon(0.01));
    CHECK(fix["from_a_m"]["value"].get<double>() ==
          doctest::Approx(1.031 * 1.55).epsilon(0.005)); // plumb low, the table
    CHECK(fix["from_b_m"]["value"].get<double>() == doctest::Approx(0.485 * 1.55).epsilon(0.01)); // plumb high
    CHECK(fix["depth_m"]["value"].get<double>() == doctest::Approx(1.50).epsilon(0.004));
    const Ran feet = run(folder, {"tiltfix", "--spacing", "7ft 8 1/2in", "--depth", "4' 10 1/2\"", "--ratio", "0.364",
                                  "--stronger", "b", "--units", "feet"});
    CHECK(feet.code == 0);
    CHECK(feet.out.find("holds") != std::string::npos);
    CHECK(feet.out.find("20.") != std::string::npos);
    CHECK(feet.out.find("on the side of B") != std::string::npos);
    CHECK(feet.out.find("5 ft 3") != std::string::npos); // 1.60 m from A
    CHECK(feet.out.find(" m ") == std::string::npos);
}

TEST_CASE("tiltfix takes how sure one is, and the rise of the ground") {
    const Folder folder;
    const auto signals = with(at_20_deg, {"--signal-a", "50.00", "--signal-b", "58.78", "--json"});
    const Json usual = run(folder, signals).json();
    CHECK(usual["spacing_sd_m"].get<double>() == doctest::Approx(1.4142 * 0.03 * 1.487).epsilon(0.001));
    CHECK(usual["rise_m"] == 0.0);
    const Json unsure = run(folder, with(signals, {"--spacing-error", "40 cm", "--depth-error", "20 cm"})).json();
    CHECK(unsure["spacing_sd_m"].get<double>() == doctest::Approx(0.4));
    CHECK(unsure["mark_sd_m"].get<double>() == doctest::Approx(0.2828).epsilon(0.001));
    CHECK(unsure["from_a_m"]["high"].get<double>() > usual["from_a_m"]["high"].get<double>() + 0.1);
    const Json rising = run(folder, with(signals, {"--rise", "-0.15 m"})).json();
    CHECK(rising["rise_m"] == -0.15);
    CHECK(std::abs(rising["tilt_deg"]["value"].get<double>() - 20.0) > 1.0);
    const Ran table = run(folder, with(at_20_deg, {"--stronger", "b", "--spacing-error", "0.1"}));
    CHECK(table.out.find("the spacing within 10 cm") != std::string::npos);
}

TEST_CASE("tiltfix says when it cannot be trusted, and exits with 1") {
    const Folder folder;
    const Ran blunt = run(folder, {"tiltfix", "--spacing", "1.9", "--depth", "1.25", "--stronger", "A"});
    CHECK(blunt.code == 1);
    CHECK(blunt.out.find("Not to be trusted") != std::string::npos);
    CHECK(blunt.out.find("signals at the plumb points") != std::string::npos);
    const std::vector<std::string> short_for_level = {"tiltfix", "--spacing", "1.78", "--depth", "1.25"};
    const Ran alone = run(folder, short_for_level);
    CHECK(alone.code == 1);
    CHECK(alone.out.find("too flat for the spacing") != std::string::npos);
    const Ran level = run(folder, with(short_for_level, {"--signal-a", "50.0", "--signal-b", "50.1"}));
    CHECK(level.code == 0);
    CHECK(level.out.find("level within the error") != std::string::npos);
    const Ran odd = run(folder, with(at_20_deg, {"--ratio", "0.1", "--stronger", "A", "--json"}));
    CHECK(odd.code == 1);
    CHECK(odd.json()["verdict"] == "does not fit");
    CHECK(run(folder, at_20_deg).code == 1);
    // 35 deg: sqrt(9 tan^2 35 + 8) / 2 = 1.7615 depths of the antenna.
    const Ran either = run(folder, {"tiltfix", "--spacing", "2.730", "--depth", "1.49"});
    CHECK(either.code == 0);
    CHECK(either.out.find("say which with --stronger") != std::string::npos);
}

TEST_CASE("tiltfix shows where its formulas come from") {
    const Folder folder;
    const Ran ran = run(folder, {"tiltfix", "--derivation"});
    CHECK(ran.code == 0);
    CHECK(ran.out.find("T = sqrt(4 L^2 / d^2 - 8) / 3") != std::string::npos);
    CHECK(run(folder, {"tiltfix", "--help"}).out.find("L/2 - 3Td/4") != std::string::npos);
}

TEST_CASE("tiltfix refuses what makes no sense, and says what is allowed") {
    const Folder folder;
    struct Case {
        std::vector<std::string> words;
        std::string_view said;
    };
    const std::vector<Case> cases = {
        {{"tiltfix"}, "--spacing is missing"},
        {{"tiltfix", "--spacing", "2"}, "--depth is missing"},
        {{"tiltfix", "--spacing", "two", "--depth", "1"}, "--spacing: found \"two\"; allowed: a length such as 1.6 m"},
        {{"tiltfix", "--spacing", "-2", "--depth", "1"},
         "spacing of the plumb points: found -2 m; allowed: 0.05 m to 100 m"},
        {{"tiltfix", "--spacing", "nan", "--depth", "1"}, "--spacing: found \"nan\""},
        {{"tiltfix", "--spacing", "90", "--depth", "1"}, "over no sonde"},
        {with(at_20_deg, {"--ratio", "1.4", "--stronger", "A"}), "--ratio: found 1.4; allowed: more than 0, at most 1"},
        {with(at_20_deg, {"--ratio", "0.4"}), "--ratio needs --stronger"},
        {with(at_20_deg, {"--signal-a", "50"}), "belong together"},
        {with(at_20_deg, {"--signal-a", "nan", "--signal-b", "50"}), "difference of the signals"},
        {with(at_20_deg, {"--signal-a", "60", "--signal-b", "50", "--stronger", "B"}), "the signals say the other one"},
        {with(at_20_deg, {"--stronger", "C"}), "A,B"},
        {with(at_20_deg, {"--level-from-a", "3"}), "it crosses between the plumb points"},
        {with(at_20_deg, {"--mark-error", "0"}), "uncertainty of a mark: found 0 m"},
        {with(at_20_deg, {"--mark-error", "3 cm", "--spacing-error", "4 cm"}), "say the same thing"},
        {with(at_20_deg, {"--spacing-error", "lots"}), "--spacing-error: found \"lots\"; allowed: a length"},
        {with(at_20_deg, {"--rise", "3"}), "rise of the ground from A to B: found 3 m"},
        {with(at_20_deg, {"--units", "miles"}), "--units: found \"miles\"; allowed: \"metric\" or \"feet\""},
    };
    for (const Case& c : cases) {
        const Ran ran = run(folder, c.words);
        CAPTURE(c.said);
        CAPTURE(ran.err);
        CHECK(ran.code == 2);
        CHECK(ran.out.empty());
        CHECK(ran.says("sondeyard: "));
        CHECK(ran.says(c.said));
    }
}
