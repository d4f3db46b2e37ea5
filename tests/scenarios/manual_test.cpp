// The manual's tables are the ones that the readers check by.
#include "scenarios/lesson.hpp"
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

std::string manual() {
    std::ifstream file(SONDEYARD_TEST_DATA "/../DEVELOPERS.md");
    REQUIRE(file.is_open());
    return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

} // namespace

TEST_CASE("DEVELOPERS.md has the tables of a lesson as they are") {
    const std::string document = manual();
    const bool keys = table_under(document, "### Keys of a lesson") == lesson_keys_markdown();
    CHECK_MESSAGE(keys, "paste this under \"### Keys of a lesson\" in DEVELOPERS.md:\n", lesson_keys_markdown());
    const std::string checks = sondeyard::field::check_table_markdown();
    const bool same = table_under(document, "### Checks of a step") == checks;
    CHECK_MESSAGE(same, "paste this under \"### Checks of a step\" in DEVELOPERS.md:\n", checks);
}

TEST_CASE("DEVELOPERS.md has the table of keys of a scenario as it is") {
    const std::string document = manual();
    const bool same = table_under(document, "### Keys of a scenario") == key_table_markdown();
    CHECK_MESSAGE(same, "paste this under \"### Keys of a scenario\" in DEVELOPERS.md:\n", key_table_markdown());
}
