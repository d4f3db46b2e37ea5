// What the bundled exercises are made of, held still: the same seed gives the same world with every compiler, level of
// optimisation and C library.
#include "field/work_log.hpp"
#include "scenarios/scenario.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <array>
#include <string>
#include <string_view>

using namespace sondeyard;
using namespace sondeyard::scenarios;

namespace {

struct Golden {
    std::string_view name;
    std::string_view sha256; // of the resolved scenario's text, seed 1
};

// A change of a scenario, of the generator or of the resolved form changes these; take the printed ones over after a
// look at the yards, and say why in the commit.
constexpr std::array golden = {
    Golden{"level-lawn", "4df41f776761c8e76098a7fd2aed3f0a7c0a2b72c822eed2d70d87bfce452644"},
    Golden{"two-percent", "7bd8c33238a30a98864941f3cdb9cf2b3de6f27b0e91b4fe005cbaa6244e4ccd"},
    Golden{"deep", "564608fb339dd01076e5c96e22e0a829c29209e96ab1429df104d09e27bb8df9"},
    Golden{"steep-branch", "dab1244aa5f19a606d37455f01eef32907cf9f8ce721e50662dbcf1b36cbee1e"},
    Golden{"on-end", "1baa7b38b52b330a0f424e4679b9b6b1617bfe9a9c3a7cc0a1f5045328c9f244"},
    Golden{"two-pipes", "d10b499c9ba1fffa41949cde5e7659cb0a0d8d2dc47c0fae2026d3465d5759a9"},
    Golden{"wrong-frequency", "ebc07bc8d5c6e8e081dd67deff4a44e6c38ed529ddae1b7a5357fd68ab6fe985"},
    Golden{"single-coil", "40526c031eee81ec62466293cf3c75724962a9b3b2c57ad056c47fb507802150"},
};

} // namespace

TEST_CASE("the golden worlds: every bundled exercise with seed 1 is the same text on every build") {
    std::string found;
    std::string expected;
    for (const std::string& name : bundled_names()) {
        found +=
            fmt::format("    Golden{{\"{}\", \"{}\"}},\n", name, field::sha256_hex(to_toml(resolve(bundled(name), 1))));
    }
    for (const Golden& g : golden) {
        expected += fmt::format("    Golden{{\"{}\", \"{}\"}},\n", g.name, g.sha256);
    }
    const bool same = found == expected; // compared apart: both texts in full would be printed twice
    CHECK_MESSAGE(same, "now they are:\n", found);
}
