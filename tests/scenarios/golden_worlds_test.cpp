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
    Golden{"deep", "126de818df7157b39dfa3b975ffd974e56bab889f3f039943aec4d1ffe0d9cf0"},
    Golden{"steep-branch", "bb7828e2a33966861d5ff5a909d6ad312f6156054c958a559f5d688d36abd788"},
    Golden{"on-end", "b989e3974f43e0e080aca8498b1c04baced102e08fb9e8d12716c390c6cc021b"},
    Golden{"two-pipes", "8d9f7fcafa380e84a118a87cfd212ddd6ef22dd92e26399873fa623bbe5d4057"},
    Golden{"wrong-frequency", "1e70858bdcb56e228437db6b63e062ed00f934aa417322341dec6fee21ed58dc"},
    Golden{"single-coil", "8e4028d8f173eed347e2880ed9ab5c08aee2c46f898e51d291a410419c2f7e74"},
    Golden{"twin-coil", "66cb9a43e669c7486417b905f039401373f97f1b9a090d8b9f313bb23c4c1691"},
    Golden{"iron-pipe", "29a8dbc203f6a2da9a717b089b21827b9f8909090dc7d807e3245733ef750dc7"},
    Golden{"slope", "22b808954b28194f876a7260017f05b10c808da7fe7e4fdfad21680e3165e001"},
    Golden{"bank", "c56ec6c90a29b5effdb42e8f913ec2354c93c50d08bc152951159f1291491f93"},
    Golden{"slab-edge", "718b656edcd2c1b2b5105c1d6e2b28915c62aed569c468b095f3194b10e46a9c"},
    Golden{"other-frequency", "9f32967cc294659ff405d0b01985affa98556885cfd8ae5b23e45fd7cff2d50f"},
    Golden{"hum-overhead", "974cf6e1410a2cf1256c8f446adde86df695454cc36afbc7795aab42884d5b05"},
    Golden{"hum-and-640", "1e569c343ab58d93a8faa2df077db3f0346cf057c057b4997a9c210f26805b71"},
    Golden{"wet-clay", "4dd0068c0319502af21afe499c29eb046ed31a4176c6be29eb4452d2d608cbd5"},
    Golden{"line-across", "0328395f266a658e43b0a7fbe3da28d7013578f56004fb31610f7ba14ced60d2"},
    Golden{"isolated-line", "5bca6ff29bf2e5ac392b02eacba519ae7046636680e920fba2ace5eb8d3fdc4d"},
    Golden{"line-beside", "c39c243ce6cc5974e01a16169dcbeb1796cf31bdb2295e7d55e9f4554f2fa17d"},
    Golden{"clamped-line", "93698c659193de1ee9d0432f3f8e2a89a393063ca4e1616632dc333279946da5"},
    Golden{"other-crew", "5e46b17c55257c3d777718f26cf46ad09c903b8134cd42cbc1e09b1fc45abfcb"},
    Golden{"stop-in-the-drop", "69965ded93274bfa29d9c9d6a2419b5188d6e45b15195195627ea26fe820953f"},
    Golden{"wide-or-narrow", "beeb68f8967a40d5e0bf1c0c10c0b6ed112f12e160e689130ac17fbb6553c5d9"},
    Golden{"deep-and-noisy", "09cd41b4d85ab5396bb4054e6e2f1014cc283cd29aeb079785ee306ec2d0af78"},
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
