// `sondeyard probe`: the field at given places, against numbers from outside the program.
#include "command_line_support.hpp"
#include "ui/cli/command_line.hpp"

#include <array>
#include <charconv>
#include <clocale>
#include <cmath>
#include <cstdio>
#include <locale>
#include <map>

using namespace sondeyard;
using namespace sondeyard::test;

namespace {

constexpr std::string_view probe_head = "x_m,y_m,z_m,bx_re_T,bx_im_T,by_re_T,by_im_T,bz_re_T,bz_im_T";

double number(std::string_view text) {
    double value = NAN;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    CHECK_MESSAGE((error == std::errc{} && end == text.data() + text.size()), "no number: ", std::string(text));
    return value;
}

std::vector<std::string> cells_of(std::string_view line) {
    std::vector<std::string> cells;
    for (;;) {
        const auto comma = line.find(',');
        cells.emplace_back(line.substr(0, comma));
        if (comma == std::string_view::npos) {
            return cells;
        }
        line.remove_prefix(comma + 1);
    }
}

using Row = std::array<double, 9>;

std::vector<Row> rows_of(const std::string& csv) {
    std::vector<std::string> lines = lines_of(csv);
    REQUIRE_FALSE(lines.empty());
    CHECK(lines.front() == probe_head);
    std::vector<Row> rows;
    for (std::size_t i = 1; i < lines.size(); ++i) {
        const std::vector<std::string> cells = cells_of(lines[i]);
        REQUIRE(cells.size() == 9);
        Row row{};
        std::ranges::transform(cells, row.begin(), number);
        rows.push_back(row);
    }
    return rows;
}

// A sonde with everything about it given, at (20, 20).
std::string sonde_toml(double depth_m, double heading_deg, double tilt_deg, double moment) {
    return fmt::format(
        "format = 1\ntitle = \"A sonde given in full\"\n[yard]\nwidth_m = 40\nlength_m = 40\nlayout = \"empty_lawn\"\n"
        "[sonde]\nposition_m = [20, 20]\ndepth_m = {}\nheading_deg = {}\ntilt_deg = {}\nmoment_A_m2 = {}\n",
        depth_m, heading_deg, tilt_deg, moment);
}

std::vector<Row> probed(const Folder& folder, const std::string& toml, const std::string& points, int seed = 1) {
    folder.write("sonde.toml", toml);
    folder.write("points.csv", points);
    const Ran ran = run(folder, {"probe", "sonde.toml", "--points", "points.csv", "--seed", std::to_string(seed)});
    REQUIRE_MESSAGE(ran.code == 0, ran.err);
    CHECK(ran.err.empty());
    return rows_of(ran.out);
}

} // namespace

TEST_CASE("probe gives the worked examples of a dipole of 0.1 A m2, 2 m deep") {
    // Worked by hand from B = mu0/4pi (3 r (m.r)/R^5 - m/R^3) (Jackson, Classical Electrodynamics, ch. 5, from memory):
    // level over it 1e-7 x 0.1 / 2^3 = 1.25e-9 T against the moment, on end 2.5e-9 T, and a metre along 1e-7 (3 x 1 x
    // 0.1 / 5^2.5 - 0.1 / 5^1.5) = -3.57771e-10 T.
    struct Example {
        double heading_deg, tilt_deg;
        std::string_view point;
        std::array<double, 3> b_t;
    };
    const Example examples[] = {
        {90, 0, "20,20,0", {-1.25e-9, 0, 0}},
        {90, 0, "21,20,0", {-3.57771e-10, 0, 1.073313e-9}},
        {0, 30, "20,20,0", {0, -1.082532e-9, -1.25e-9}},
        {0, 90, "20,20,0", {0, 0, -2.5e-9}},
    };
    const Folder folder;
    for (const Example& e : examples) {
        CAPTURE(e.heading_deg);
        CAPTURE(e.tilt_deg);
        CAPTURE(e.point);
        const auto rows =
            probed(folder, sonde_toml(2, e.heading_deg, e.tilt_deg, 0.1), fmt::format("x_m,y_m,z_m\n{}\n", e.point));
        REQUIRE(rows.size() == 1);
        for (std::size_t axis = 0; axis < 3; ++axis) {
            CHECK(std::abs(rows[0][3 + 2 * axis] - e.b_t[axis]) < 1e-15); // the examples have seven figures
            CHECK(rows[0][4 + 2 * axis] == 0.0);                          // free space: nothing out of phase
        }
    }
}

TEST_CASE("probe agrees with every row of the loop table within its deviation from a dipole") {
    // reference/loop_reference.csv: elliptic integrals for every ring of the winding, not the dipole formula.
    std::ifstream in(std::string(SONDEYARD_TEST_DATA) + "/reference/loop_reference.csv");
    REQUIRE(in.good());
    std::map<std::array<std::string, 3>, std::vector<std::vector<std::string>>> sondes; // by depth, heading, tilt
    for (std::string line; std::getline(in, line);) {
        const auto cells = cells_of(line);
        if (cells.size() == 14 && (cells[0] == "loop" || cells[0] == "solenoid")) {
            sondes[{cells[5], cells[3], cells[4]}].push_back(cells);
        }
    }
    const Folder folder;
    std::size_t checked = 0;
    for (const auto& [sonde, table] : sondes) {
        std::string points = "x_m,y_m,z_m\n";
        for (const auto& cells : table) {
            points += fmt::format("{},{},{}\n", number(cells[6]) + 20.0, number(cells[7]) + 20.0, number(cells[8]));
        }
        const auto rows = probed(folder, sonde_toml(number(sonde[0]), number(sonde[1]), number(sonde[2]), 1.0), points);
        REQUIRE(rows.size() == table.size());
        for (std::size_t i = 0; i < rows.size(); ++i) {
            double off = 0.0;
            double size = 0.0;
            for (std::size_t axis = 0; axis < 3; ++axis) {
                const double expected = number(table[i][10 + axis]);
                off += std::pow(rows[i][3 + 2 * axis] - expected, 2);
                size += expected * expected;
            }
            CAPTURE(i);
            CAPTURE(sonde[0]);
            CHECK(std::sqrt(off / size) <= 1.01 * number(table[i][13]) + 1e-6);
            ++checked;
        }
    }
    CHECK(checked == 320);
}

TEST_CASE("probe agrees with the half-space table to a thousandth of the field, in and out of phase") {
    // reference/halfspace_reference.csv: Sommerfeld integrals, made outside this program (see its header). Sondes are
    // those of the first rows of the table for each frequency, ground and depth.
    std::ifstream in(std::string(SONDEYARD_TEST_DATA) + "/reference/halfspace_reference.csv");
    REQUIRE(in.good());
    std::map<std::array<std::string, 3>, std::vector<std::vector<std::string>>> sondes; // frequency, ground, depth
    for (std::string line; std::getline(in, line);) {
        const auto cells = cells_of(line);
        if (cells.size() == 15 && cells[0] != "frequency_hz") {
            auto& rows = sondes[{cells[0], cells[1], cells[2]}];
            if (rows.empty() || (rows.front()[3] == cells[3] && rows.front()[4] == cells[4])) {
                rows.push_back(cells);
            }
        }
    }
    CHECK(sondes.size() >= 40);
    const Folder folder;
    double worst = 0.0;
    for (const auto& [sonde, table] : sondes) {
        std::string points = "x_m,y_m,z_m\n";
        for (const auto& cells : table) {
            points += fmt::format("{},{},{}\n", number(cells[5]) + 20.0, number(cells[6]) + 20.0, number(cells[7]));
        }
        const std::string toml =
            sonde_toml(number(sonde[2]), number(table[0][3]), number(table[0][4]), 1.0) +
            fmt::format("frequency_hz = {}\n[ground]\nresistivity_ohm_m = {}\n", sonde[0], sonde[1]);
        const auto rows = probed(folder, toml, points);
        REQUIRE(rows.size() == table.size());
        for (std::size_t i = 0; i < rows.size(); ++i) {
            std::array<double, 2> off{};
            double size = 0.0;
            for (std::size_t k = 0; k < 6; ++k) {
                const double expected = number(table[i][8 + k]);
                off[k % 2] += std::pow(rows[i][3 + k] - expected, 2);
                size += expected * expected;
            }
            for (const double part : off) {
                worst = std::max(worst, std::sqrt(part / size));
            }
        }
    }
    CHECK(worst < 1e-3);
    CHECK(worst > 1e-12); // the table was there to be compared with
}

TEST_CASE("what probe prints reads back to the same number, as CSV and as JSON") {
    const Folder folder;
    folder.write("points.csv", "x_m,y_m,z_m\n0.1,0.2,0.3\n12.345678901234567,7.000000000000001,1e-17\n-3,99.5,2\n");
    const Ran csv = run(folder, {"probe", "level-lawn", "--points", "points.csv"});
    const Ran json = run(folder, {"probe", "level-lawn", "--points", "points.csv", "--json"});
    REQUIRE(csv.code == 0);
    REQUIRE(json.code == 0);
    const auto rows = rows_of(csv.out);
    REQUIRE(rows.size() == 3);
    CHECK(rows[1][0] == 12.345678901234567);
    CHECK(rows[1][1] == 7.000000000000001);
    CHECK(rows[1][2] == 1e-17);
    const Json document = json.json();
    CHECK(document["scenario"] == "level-lawn");
    CHECK(document["seed"] == 1);
    CHECK(document["held_at_closest_range"] == 0);
    REQUIRE(document["points"].size() == 3);
    const auto names = cells_of(probe_head);
    for (std::size_t i = 0; i < 3; ++i) {
        for (std::size_t k = 0; k < 9; ++k) {
            CHECK(document["points"][i][names[k]].get<double>() == rows[i][k]);
            // Printed in full: the shortest text that reads back to the number, which need not be short.
            CHECK(lines_of(csv.out)[i + 1].find(fmt::format("{}", rows[i][k])) != std::string::npos);
        }
    }
    CHECK(csv.out.find("-0,") == std::string::npos);
}

TEST_CASE("a seed moves what is drawn and leaves a sonde given in full alone") {
    const Folder folder;
    const std::string points = "x_m,y_m,z_m\n19,21,0.05\n23.5,18,0.4\n";
    const auto one = probed(folder, sonde_toml(1.5, 30, 10, 0.2), points, 1);
    CHECK(one == probed(folder, sonde_toml(1.5, 30, 10, 0.2), points, 2));
    CHECK(one == probed(folder, sonde_toml(1.5, 30, 10, 0.2), points, 987654321));
    CHECK(one != probed(folder, sonde_toml(1.5, 30, 11, 0.2), points, 1));
    const auto bundled = [&](const char* seed) {
        return run(folder, {"probe", "level-lawn", "--points", "points.csv", "--seed", seed}).out;
    };
    CHECK(bundled("1") == bundled("1"));
    CHECK(bundled("1") != bundled("2"));
}

TEST_CASE("point files from other systems are read alike") {
    const Folder folder;
    const std::string toml = sonde_toml(1.5, 30, 10, 0.2);
    const auto plain = probed(folder, toml, "x_m,y_m,z_m\n19,21,0.05\n20,20,0\n");
    REQUIRE(plain.size() == 2);
    CHECK(plain == probed(folder, toml, "x_m,y_m,z_m\r\n19,21,0.05\r\n20,20,0\r\n"));               // Windows line ends
    CHECK(plain == probed(folder, toml, "x_m,y_m,z_m\n19,21,0.05\n20,20,0"));                       // no last line end
    CHECK(plain == probed(folder, toml, "\xEF\xBB\xBFx_m,y_m,z_m\n19,21,0.05\n20,20,0\n"));         // byte order mark
    CHECK(plain == probed(folder, toml, "# by hand\n\nx_m, y_m, z_m\n 19 , 21,\t0.05\n\n20,20,0")); // notes and blanks
    CHECK(plain == probed(folder, toml, "x_m,y_m,z_m\n1.9e1,21.000,5e-2\n20,20,-0\n"));
    CHECK(probed(folder, toml, "x_m,y_m,z_m\n").empty());
}

TEST_CASE("inside the range where a sonde is no dipole probe says so") {
    const Folder folder;
    folder.write("sonde.toml", sonde_toml(1.5, 30, 10, 0.2));
    folder.write("points.csv", "x_m,y_m,z_m\n20,20,-1.5\n20,20,0\n");
    const Ran ran = run(folder, {"probe", "sonde.toml", "--points", "points.csv", "--json"});
    CHECK(ran.code == 0);
    CHECK(ran.json()["held_at_closest_range"] == 1);
    CHECK(ran.says("1 of the points lie within 0.15 m of the sonde"));
    CHECK(std::isfinite(ran.json()["points"][0]["bx_re_T"].get<double>()));
}

// ---- Locale ----

namespace {

struct CommaPoint : std::numpunct<char> {
    char do_decimal_point() const override { return ','; }
    char do_thousands_sep() const override { return '.'; }
    std::string do_grouping() const override { return "\3"; }
};

// In this process, with standard output and error kept.
Ran run_here(const Folder& folder, const std::vector<std::string>& words) {
    std::vector<const char*> argv = {"sondeyard"};
    for (const std::string& word : words) {
        argv.push_back(word.c_str());
    }
    Ran ran;
    std::array<int, 2> before{};
    const char* names[] = {"kept-out", "kept-err"};
    std::fflush(nullptr);
    for (int i = 0; i < 2; ++i) {
        before[static_cast<std::size_t>(i)] = dup(i + 1);
        const int fd = open((folder / names[i]).c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0644);
        REQUIRE(fd >= 0);
        dup2(fd, i + 1);
        close(fd);
    }
    ran.code = ui::run_command_line(static_cast<int>(argv.size()), argv.data());
    std::fflush(nullptr);
    for (int i = 0; i < 2; ++i) {
        dup2(before[static_cast<std::size_t>(i)], i + 1);
        close(before[static_cast<std::size_t>(i)]);
    }
    ran.out = bytes_of(folder / "kept-out");
    ran.err = bytes_of(folder / "kept-err");
    return ran;
}

std::vector<std::string> all_outputs(const Folder& folder) {
    const std::string points = (folder / "points.csv").string();
    const std::string log = (folder / "work.jsonl").string();
    std::filesystem::remove(log);
    std::vector<std::string> all;
    for (const std::vector<std::string>& words : {std::vector<std::string>{"probe", "level-lawn", "--points", points},
                                                  {"probe", "level-lawn", "--points", points, "--json"},
                                                  {"generate", "two-pipes", "--seed", "3"},
                                                  {"operate", "level-lawn", "--operator", "follows-peak", "--log", log},
                                                  {"replay", log, "--json"},
                                                  {"score", log},
                                                  {"score", log, "--json"}}) {
        const Ran ran = run_here(folder, words);
        CHECK_MESSAGE(ran.code == 0, words.front(), ran.err);
        all.push_back(ran.out);
    }
    all.push_back(bytes_of(log));
    return all;
}

} // namespace

TEST_CASE("a locale with a decimal comma changes no byte of what is read or written") {
    const Folder folder;
    folder.write("points.csv", "x_m,y_m,z_m\n1234.5,2.25,0.05\n");
    const auto plain = all_outputs(folder);

    const std::locale before = std::locale::global(std::locale(std::locale::classic(), new CommaPoint));
    const auto with_facet = all_outputs(folder); // C++ streams
    std::locale::global(before);
    CHECK(plain == with_facet);

    // The C library's: strtod, printf. Few machines have one installed, so it is compiled here when that can be done.
    const char* const name = "de_DE.UTF-8";
    if (run_program("localedef", folder, {"-i", "de_DE", "-f", "UTF-8", (folder / name).string()}).code >= 0) {
        setenv("LOCPATH", folder.path().c_str(), 1);
    }
    if (std::setlocale(LC_ALL, name) == nullptr) {
        unsetenv("LOCPATH");
        MESSAGE(
            "NOT TESTED: the C library's decimal comma. No locale de_DE.UTF-8 here, and localedef could not make one");
        return;
    }
    CHECK(std::localeconv()->decimal_point == std::string(",")); // or the rest would prove nothing
    const auto with_c_locale = all_outputs(folder);
    std::setlocale(LC_ALL, "C");
    unsetenv("LOCPATH");
    CHECK(plain == with_c_locale);
}
