// The manual's table of keys is the one that the reader checks by.
#include "scenarios/schema.hpp"

#include <doctest/doctest.h>

#include <fstream>
#include <iterator>
#include <sstream>
#include <string>

using namespace sondeyard::scenarios;

namespace {

// The rows of the first table behind a heading; empty when there is none before the next heading.
std::string table_under(const std::string& document, const std::string& heading) {
    std::istringstream lines(document);
    std::string line;
    std::string table;
    bool here = false;
    while (std::getline(lines, line)) {
        if (line == heading) {
            here = true;
        } else if (here && line.starts_with("|")) {
            table += line + "\n";
        } else if (here && (line.starts_with("#") || !table.empty())) {
            break;
        }
    }
    return table;
}

} // namespace

TEST_CASE("DEVELOPERS.md has the table of keys of a scenario as it is") {
    std::ifstream file(SONDEYARD_TEST_DATA "/../DEVELOPERS.md");
    REQUIRE(file.is_open());
    const std::string document((std::istreambuf_iterator<char>(file)), std::istreambuf_iterator<char>());
    const bool same = table_under(document, "### Keys of a scenario") == key_table_markdown();
    CHECK_MESSAGE(same, "paste this under \"### Keys of a scenario\" in DEVELOPERS.md:\n", key_table_markdown());
}
