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
    Golden{"level-lawn", "08e6d219bccb8a539b4115dcf9316d3fff03809e3796db3df6a445eb0c4c192f"},
    Golden{"two-percent", "e5ee2f7448a2751e019e36265792dd879e7d2cb0e8dcb0e99443eef1b35f7b52"},
    Golden{"deep", "58a945b942caa24d61302ae4af83d6c64a4e011b498f50e73a723cb1b51707c3"},
    Golden{"steep-branch", "bb7828e2a33966861d5ff5a909d6ad312f6156054c958a559f5d688d36abd788"},
    Golden{"on-end", "b989e3974f43e0e080aca8498b1c04baced102e08fb9e8d12716c390c6cc021b"},
    Golden{"two-pipes", "7bb62140d0bf5a1df89faff4379f5535fe15d30bc0c36a5e08db3a6a99357c65"},
    Golden{"wrong-frequency", "1e70858bdcb56e228437db6b63e062ed00f934aa417322341dec6fee21ed58dc"},
    Golden{"single-coil", "8e4028d8f173eed347e2880ed9ab5c08aee2c46f898e51d291a410419c2f7e74"},
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
