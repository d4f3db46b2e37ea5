// What a folder may include, read from the sources themselves.
//
// | checked                                            | against                                                   |
// | ---                                                | ---                                                       |
// | project folders named in #include lines            | the arrows: ui -> scenarios, audio; scenarios -> field -> sim
// | | library headers                                    | one list a folder; a new library is a decision, made here |
// | the vector loops                                   | not in field and scenarios, nor in what the tick calls of sim |
// | calls that differ between runs, machines, libraries | none in sim, field and scenarios, on which replay rests  |
#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>
#include <string>
#include <string_view>
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
        {"sim", {"sim"}, {"glm/", "boost/math/", "Eigen/", "hwy/"}},
        {"field",
         {"field", "sim"},
         {"glm/", "boost/math/", "Eigen/", "fmt/", "nlohmann/", "sodium", "sqlite3.h", "unistd.h", "fcntl.h", "sys/"}},
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

// The name between the marks of an #include line, with its opening mark; empty for any other line.
std::string included_by(const std::string& line) {
    std::string packed; // blanks may stand anywhere before the name
    for (const char c : line) {
        if (c != ' ' && c != '\t') {
            packed += c;
        }
    }
    static const std::string word = "#include";
    const bool is_include = packed.compare(0, word.size(), word) == 0 && packed.size() > word.size() + 1 &&
                            (packed[word.size()] == '<' || packed[word.size()] == '"');
    if (!is_include) {
        return "";
    }
    return packed.substr(word.size(), packed.find_first_of(">\"", word.size() + 1) - word.size());
}

// The headers named in a source text that the folder may not include.
std::vector<std::string> forbidden_includes(const Folder& folder, const std::string& text) {
    std::vector<std::string> forbidden;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        const std::string marked = included_by(line);
        if (marked.empty()) {
            continue;
        }
        const std::string header = marked.substr(1);
        bool allowed = false;
        if (marked[0] == '"') {
            for (const std::string& ours : folder.folders) {
                allowed = allowed || header.compare(0, ours.size() + 1, ours + "/") == 0;
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

bool of_a_word(char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_'; }

// Names whose result depends on the library, the locale, the clock or the order of a hash table. One that begins a word
// here must begin one there; what follows is open, so that mt19937_64 is found too.
std::vector<std::string> unrepeatable_calls(const std::string& text) {
    static const std::vector<std::string> names = {"uniform_int_distribution",
                                                   "uniform_real_distribution",
                                                   "normal_distribution",
                                                   "poisson_distribution",
                                                   "bernoulli_distribution",
                                                   "discrete_distribution",
                                                   "exponential_distribution",
                                                   "lognormal_distribution",
                                                   "mt19937",
                                                   "default_random_engine",
                                                   "random_device",
                                                   "rand(",
                                                   "srand(",
                                                   "std::hash",
                                                   "unordered_",
                                                   "system_clock",
                                                   "steady_clock",
                                                   "high_resolution_clock",
                                                   "time(nullptr",
                                                   "time(NULL",
                                                   "time(0)",
                                                   "gettimeofday",
                                                   "clock_gettime",
                                                   "setlocale",
                                                   "std::locale",
                                                   "std::execution",
                                                   "std::shuffle"};
    std::vector<std::string> found;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        const std::string code = line.substr(0, line.find("//"));
        for (const std::string& name : names) {
            for (auto at = code.find(name); at != std::string::npos; at = code.find(name, at + 1)) {
                if (at == 0 || !of_a_word(code[at - 1])) {
                    found.push_back(name);
                }
            }
        }
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

// The files of field are those that tests/CMakeLists.txt builds the mutation run of field from.
TEST_CASE("Only sim, and in field its arithmetic alone, can be made wrong on purpose") {
    const std::array<std::string_view, 4> arithmetic = {"tilt_fix.cpp", "tilt_track.cpp", "knowable.cpp", "fit.cpp"};
    for (const char* folder : {"field", "scenarios", "audio", "ui"}) {
        for (const fs::path& file : sources_of(folder)) {
            CHECK_MESSAGE(text_of(file).find("active_mutation") == std::string::npos, file.string());
            const bool may = folder == std::string_view("field") &&
                             std::ranges::find(arithmetic, file.filename().string()) != arithmetic.end();
            CHECK_MESSAGE((may || text_of(file).find("mutated(") == std::string::npos), file.string());
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

// Their last digits depend on the machine's instruction set.
TEST_CASE("What a replay or a score rests on does not include the vector loops") {
    for (const char* folder : {"field", "scenarios"}) {
        for (const fs::path& file : sources_of(folder)) {
            const std::string text = text_of(file);
            for (const char* header : {"\"sim/batch", "\"sim/map.hpp\""}) {
                CHECK_MESSAGE(text.find(header) == std::string::npos, file.string());
            }
        }
    }
    for (const char* file : {"dipole", "ground", "line", "pipe_wall", "receiver", "scene"}) {
        const fs::path path = fs::path(SONDEYARD_TEST_DATA).parent_path() / "sim" / (std::string(file) + ".cpp");
        CHECK_MESSAGE(text_of(path).find("\"sim/batch") == std::string::npos, path.string());
        CHECK_MESSAGE(text_of(path).size() > 0, path.string());
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
