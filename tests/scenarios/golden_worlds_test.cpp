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
    Golden{"twin-coil", "66cb9a43e669c7486417b905f039401373f97f1b9a090d8b9f313bb23c4c1691"},
    Golden{"iron-pipe", "29a8dbc203f6a2da9a717b089b21827b9f8909090dc7d807e3245733ef750dc7"},
    Golden{"slope", "22b808954b28194f876a7260017f05b10c808da7fe7e4fdfad21680e3165e001"},
    Golden{"bank", "cb0a116e81cb4414874dd48ec9edce448239a1ebfd39bcc9b3e405d9b7333350"},
    Golden{"slab-edge", "718b656edcd2c1b2b5105c1d6e2b28915c62aed569c468b095f3194b10e46a9c"},
    Golden{"other-frequency", "50019cb50fcbdbc71c81aa1eefc4f5198ba57643c606f1dafcd64bd955fcac14"},
    Golden{"hum-overhead", "974cf6e1410a2cf1256c8f446adde86df695454cc36afbc7795aab42884d5b05"},
    Golden{"hum-and-640", "1e569c343ab58d93a8faa2df077db3f0346cf057c057b4997a9c210f26805b71"},
    Golden{"wet-clay", "59b8028e5a1d7067d4f1a2991343fbcf3050eae50a4590315d06a29014cc198b"},
    Golden{"line-across", "55fdd14f616bbc8e1d0fdacd768806a937dab9ac6b151c194b9cf769086c36d7"},
    Golden{"isolated-line", "9d7d4d347d2da4b2d2505c52b396f312774d428876b01c7960389ed7db8b4af5"},
    Golden{"line-beside", "c39c243ce6cc5974e01a16169dcbeb1796cf31bdb2295e7d55e9f4554f2fa17d"},
    Golden{"clamped-line", "67daebfb7bff2e03b8d8eaafe3ba544ec0cfff6085e1609f769745009c349d8c"},
    Golden{"other-crew", "b435ae93ac27e0004a936aa97c5adf8ae403b879874e400bd5f987821836bcd8"},
    Golden{"stop-in-the-drop", "b844acbf69f10f510af842f0158a0ddedb727d99044313d5963d36c7cbadb5be"},
    Golden{"wide-or-narrow", "beeb68f8967a40d5e0bf1c0c10c0b6ed112f12e160e689130ac17fbb6553c5d9"},
    Golden{"deep-and-noisy", "bee850c2978c5d7b11929f3dcc2552eaf1554b9f08a3358ee4a1d97cb9a5ff6c"},
    Golden{"iron-hum-hill", "b16230a0f284184c44d9936d884bed43979d0ae8aa8a797adf4f622017331e7d"},
    Golden{"clay-line-bank", "c3cac2547e983af7d69bf79279b6fc2266ad5f079ea0849326c37d0eb14fbeba"},
    Golden{"slope-slab-wires", "ef700e36ebf013404c0edfb3606a7266267cb9bee53e3415168b1dcbfb76f7ce"},
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
