// What a folder may include, read from the sources themselves.
//
// | checked                                            | against                                                   |
// | ---                                                | ---                                                       |
// | project folders named in #include lines            | the arrows: ui -> scenarios, audio; scenarios -> field -> sim
// | | library headers                                    | one list a folder; a new library is a decision, made here |
// | calls that differ between runs, machines, libraries | none in sim, field and scenarios, on which replay rests  |
#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <regex>
#include <string>
#include <utility>
#include <vector>

namespace {

namespace fs = std::filesystem;

struct Folder {
    std::string name;
    std::vector<std::string> folders;   // whose headers it may include
    std::vector<std::string> libraries; // beginnings of the header names it may include beside the standard library's
};

// "unistd.h" and "sys/" stand for the operating system: files written safely, threads' clocks.
const std::vector<Folder>& rules() {
    static const std::vector<Folder> all = {
        {"sim", {"sim"}, {"glm/", "boost/math/", "Eigen/"}},
        {"field",
         {"field", "sim"},
         {"glm/", "boost/math/", "Eigen/", "fmt/", "nlohmann/", "sodium", "unistd.h", "fcntl.h", "sys/"}},
        {"scenarios", {"scenarios", "field", "sim"}, {"glm/", "fmt/", "toml++/", "unistd.h", "fcntl.h", "sys/"}},
        {"audio", {"audio"}, {"AL/", "unistd.h", "fcntl.h", "sys/"}},
    };
    return all;
}

std::string text_of(const fs::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

std::vector<fs::path> sources_of(const std::string& folder) {
    std::vector<fs::path> found;
    for (const auto& entry : fs::recursive_directory_iterator(fs::path(SONDEYARD_TEST_DATA).parent_path() / folder)) {
        const fs::path extension = entry.path().extension();
        if (entry.is_regular_file() && (extension == ".cpp" || extension == ".hpp" || extension == ".h")) {
            found.push_back(entry.path());
        }
    }
    return found;
}

bool begins_with_any(const std::string& header, const std::vector<std::string>& beginnings) {
    for (const std::string& b : beginnings) {
        if (header.compare(0, b.size(), b) == 0) {
            return true;
        }
    }
    return false;
}

// The headers named in a source text that the folder may not include.
std::vector<std::string> forbidden_includes(const Folder& folder, const std::string& text) {
    static const std::regex include_line(R"(^[ \t]*#[ \t]*include[ \t]*([<"])([^>"]+)[>"])", std::regex::multiline);
    std::vector<std::string> forbidden;
    for (std::sregex_iterator it(text.begin(), text.end(), include_line), end; it != end; ++it) {
        const std::string header = (*it)[2];
        bool allowed = false;
        if ((*it)[1] == "\"") {
            const auto slash = header.find('/');
            for (const std::string& ours : folder.folders) {
                allowed = allowed || (slash != std::string::npos && header.substr(0, slash) == ours);
            }
        } else {
            const bool standard = header.find_first_of("./") == std::string::npos;
            allowed = standard || begins_with_any(header, folder.libraries);
        }
        if (!allowed) {
            forbidden.push_back(header);
        }
    }
    return forbidden;
}

// Calls whose result depends on the library, the locale, the clock or the order of a hash table.
std::vector<std::string> unrepeatable_calls(const std::string& text) {
    static const std::regex call(
        R"(\b(std::\w+_distribution|mt19937\w*|random_device|s?rand[ ]*\(|std::hash\b|unordered_\w+|)"
        R"((?:system|steady|high_resolution)_clock|time[ ]*\([ ]*(?:0|NULL|nullptr|&)|gettimeofday|clock_gettime|)"
        R"(setlocale|std::locale|std::execution))");
    static const std::regex comment(R"(//[^\n]*)");
    const std::string code = std::regex_replace(text, comment, "");
    std::vector<std::string> found;
    for (std::sregex_iterator it(code.begin(), code.end(), call), end; it != end; ++it) {
        found.push_back((*it)[1]);
    }
    return found;
}

} // namespace

TEST_CASE("No folder includes what lies up the arrows or a library it may not use") {
    for (const Folder& folder : rules()) {
        const auto files = sources_of(folder.name);
        CHECK_MESSAGE(!files.empty(), folder.name << " has no sources");
        for (const fs::path& file : files) {
            for (const std::string& header : forbidden_includes(folder, text_of(file))) {
                FAIL_CHECK(file.string() << " includes " << header << ", which " << folder.name << " may not");
            }
        }
    }
}

TEST_CASE("Nothing includes the tests") {
    for (const char* folder : {"sim", "field", "scenarios", "audio", "ui"}) {
        for (const fs::path& file : sources_of(folder)) {
            CHECK_MESSAGE(text_of(file).find("#include \"tests/") == std::string::npos, file.string());
            CHECK_MESSAGE(text_of(file).find("#include <doctest") == std::string::npos, file.string());
        }
    }
}

TEST_CASE("Only sim can be made wrong on purpose") {
    for (const char* folder : {"field", "scenarios", "audio", "ui"}) {
        for (const fs::path& file : sources_of(folder)) {
            CHECK_MESSAGE(text_of(file).find("active_mutation") == std::string::npos, file.string());
            CHECK_MESSAGE(text_of(file).find("mutated(") == std::string::npos, file.string());
        }
    }
}

TEST_CASE("What a replay or a score rests on calls nothing that differs between runs or machines") {
    for (const char* folder : {"sim", "field", "scenarios"}) {
        for (const fs::path& file : sources_of(folder)) {
            for (const std::string& call : unrepeatable_calls(text_of(file))) {
                FAIL_CHECK(file.string() << " uses " << call);
            }
        }
    }
}

TEST_CASE("The reader of includes finds each kind of forbidden header") {
    const Folder& sim = rules().front();
    CHECK(forbidden_includes(sim, "#include \"field/world.hpp\"\n") == std::vector<std::string>{"field/world.hpp"});
    CHECK(forbidden_includes(sim, "  #  include <SDL2/SDL.h>\n") == std::vector<std::string>{"SDL2/SDL.h"});
    CHECK(forbidden_includes(sim, "int a;\n#include <imgui.h>") == std::vector<std::string>{"imgui.h"});
    CHECK(forbidden_includes(sim, "#include <AL/al.h>\n") == std::vector<std::string>{"AL/al.h"});
    CHECK(forbidden_includes(sim, "#include \"world.hpp\"\n") == std::vector<std::string>{"world.hpp"});
    CHECK(forbidden_includes(sim, "#include \"sim/units.hpp\"\n#include <glm/vec3.hpp>\n#include <cmath>\n").empty());
    CHECK(forbidden_includes(sim, "// #include \"field/world.hpp\"\n").empty());
}

TEST_CASE("The reader of calls finds each kind of unrepeatable call") {
    CHECK(unrepeatable_calls("std::normal_distribution<double> d;").size() == 1);
    CHECK(unrepeatable_calls("int a = rand();").size() == 1);
    CHECK(unrepeatable_calls("std::unordered_map<int, int> m;").size() == 1);
    CHECK(unrepeatable_calls("auto t = std::chrono::system_clock::now();").size() == 1);
    CHECK(unrepeatable_calls("auto t = std::time(nullptr);").size() == 1);
    CHECK(unrepeatable_calls("double settling_time(0); // std::hash").empty());
    CHECK(unrepeatable_calls("operand(3); const double x = grand(2);").empty());
}
