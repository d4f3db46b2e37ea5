// Soundings: what the antennas took in, got back from the detector.
//
// | checked                                        | against                                                      |
// | ---                                            | ---                                                          |
// | mean of a standing and of a walked receiver    | the dipole's field at those antennas, no lag left            |
// | noise and its independence from one to the next | stated deviation, by counting over 2000 soundings           |
// | how many, how often                            | two time constants of the filter                             |
// | settings changed, cable, other frequencies     | the mean begins anew                                         |
#include "field/sounding.hpp"
#include "tests/field/empty_yard.hpp"

#include <doctest/doctest.h>
#include <glm/geometric.hpp>

#include <complex>

using namespace sondeyard;

namespace {

// What antenna `c` should have taken in, with the phase that the scene has (none).
double expected_t(const field::World& world, const field::Channel& c) {
    const sim::Dipole sonde = sim::make_sonde(world.sonde.position_m, world.sonde.heading_deg, world.sonde.tilt_deg,
                                              world.sonde.moment_am2, world.sonde.frequency_hz);
    return glm::dot(sim::dipole_field_t(sonde, c.place_m).re, c.axis);
}

} // namespace

TEST_CASE("Soundings: standing and walking, they carry the field at the antennas and noise of the stated size") {
    const field::Setting setting(test::empty_yard(1.6, 70.0, 25.0));
    field::ExerciseState state = field::start(setting);
    for (int tick = 0; tick < 60 * 25; ++tick) { // walks over the sonde and back, and stands at each end
        const double y = (tick / 400) % 2 == 0 ? 19.0 : 11.0;
        field::step(setting, state, test::hand_at({15.4, y}, 0.3));
    }
    for (int tick = 0; tick < 60 * 600; ++tick) {
        field::step(setting, state, test::hand_at({15.4, 14.0}, 0.0));
    }
    REQUIRE(state.soundings.size() > 2000);
    double square = 0.0;
    double product = 0.0;
    long count = 0;
    bool walked = false;
    std::complex<double> before{0.0};
    for (const field::Sounding& s : state.soundings) {
        walked = walked || s.ticks < 3;
        const field::Channels channels = field::channels_of(s, setting.instrument);
        CHECK(channels.count == 6);
        for (const field::Channel& c : channels) {
            const std::complex<double> left =
                (c.heard_t - expected_t(setting.world, c)) / (1e-12 * static_cast<double>(s.noise_pt));
            CHECK(std::abs(left) < 7.0);
            square += std::norm(left);
            ++count;
            if (c.number == 0) {
                product += (left * std::conj(before)).real();
                before = left;
            }
        }
    }
    CHECK(walked);
    const double n = static_cast<double>(count);
    CHECK(square / n == doctest::Approx(2.0).epsilon(4.0 / std::sqrt(n))); // two parts of variance 1 each
    CHECK(std::abs(product / (n / 6.0)) < 4.0 * std::sqrt(2.0 / (n / 6.0)));
}

TEST_CASE("Soundings: one in two time constants, fewer bytes than a trail, none across a change of settings") {
    const field::Setting setting(test::empty_yard());
    field::ExerciseState state = field::start(setting);
    test::go_to(setting, state, {15.0, 12.0});
    const std::size_t before = state.soundings.size();
    for (int tick = 0; tick < 600; ++tick) {
        field::step(setting, state, test::hand_at({15.0, 12.0}));
    }
    const std::size_t added = state.soundings.size() - before; // ten seconds at 0.3 s each
    CHECK(added >= 32);
    CHECK(added <= 34);
    CHECK(state.soundings.back().ticks == 18);
    CHECK(sizeof(field::Sounding) <= 160);

    while (state.soundings.back().tick != state.tick) {
        field::step(setting, state, test::hand_at({15.0, 12.0}));
    }
    for (int tick = 0; tick < 9; ++tick) {
        field::step(setting, state, test::hand_at({15.0, 12.0}));
    }
    test::command(setting, state, field::SetFrequency{640.0});
    for (int tick = 0; tick < 60; ++tick) {
        field::step(setting, state, test::hand_at({15.0, 12.0}));
    }
    bool other = false;
    for (const field::Sounding& s : state.soundings) {
        if (s.frequency_hz == 640.0F) {
            CHECK(s.ticks <= 18);
            CHECK((other || s.ticks < 12)); // the first holds only what came after the change
            other = true;
        }
    }
    CHECK(other);
}

TEST_CASE("Soundings: what each kind of receiver hears with") {
    for (const auto kind :
         {sim::ReceiverKind::tri_axis, sim::ReceiverKind::single_coil, sim::ReceiverKind::twin_coil}) {
        field::World world = test::empty_yard();
        world.receiver.kind = kind;
        const field::Setting setting(world);
        field::ExerciseState state = field::start(setting);
        test::go_to(setting, state, {15.0, 14.0});
        REQUIRE(!state.soundings.empty());
        const field::Channels channels = field::channels_of(state.soundings.back(), setting.instrument);
        CHECK(channels.count == (kind == sim::ReceiverKind::tri_axis    ? 6
                                 : kind == sim::ReceiverKind::twin_coil ? 2
                                                                        : 1));
        for (const field::Channel& c : channels) {
            CHECK(std::abs(std::abs(c.heard_t) - std::abs(expected_t(world, c))) <
                  6e-12 * static_cast<double>(state.soundings.back().noise_pt));
        }
    }
}
