// Does each difficulty bite? The same yard with and without it, seen by an instrument without errors or noise.
//
// Outside sources: dipole, image and shell figures as in the tests of sim; here only what a trainee would notice, with
// room on both sides. The figures found are printed (run with -s).
#include "field/exercise.hpp"
#include "scenarios/scenario.hpp"
#include "sim/phasor.hpp"
#include "sim/units.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

using namespace sondeyard;
using namespace sondeyard::scenarios;

namespace {

// A yard as an instrument without errors sees it, at the sonde's frequency unless another is given.
class Seen {
public:
    explicit Seen(field::World world)
        : world_(std::move(world)), ground_(field::ground_model_of(world_)),
          scene_(field::scene_of(world_, ground_, world_.sonde)) {
        sim::ReceiverSpec spec = world_.receiver;
        spec.noise_floor_pt_per_rthz = spec.noise_at_512_pt_per_rthz = 0.0;
        instrument_ = sim::perfect_instrument(spec);
    }

    const field::World& world() const { return world_; }
    const sim::Scene& scene() const { return scene_; }

    sim::Measurement at(const glm::dvec2& place, std::optional<double> frequency_hz = {}, double up_m = 0.0,
                        double turned_deg = 0.0) const {
        const double f = frequency_hz.value_or(world_.sonde.frequency_hz);
        const sim::Pose pose{{place, field::height_m(world_.yard.terrain, place) + up_m},
                             world_.sonde.heading_deg + turned_deg,
                             0.0,
                             0.0};
        const auto signals = sim::antenna_signals_t(instrument_, pose, scene_, f, 1, field::tick_s, true);
        return sim::measure(instrument_, signals, f, 0.0, sim::CoilAttitude::level);
    }
    double dbpt(const glm::dvec2& place, std::optional<double> frequency_hz = {}) const {
        return sim::dbpt(at(place, frequency_hz).signal_t);
    }
    double depth_m(const glm::dvec2& place, double up_m = 0.0) const {
        return at(place, {}, up_m).depth_m.value_or(-1.0);
    }

    // From the sonde, along its heading and to the right of it, metres.
    glm::dvec2 from_sonde(double along_m, double right_m) const {
        const glm::dvec2 along = field::direction_of(world_.sonde.heading_deg);
        return field::plan(world_.sonde.position_m) + along_m * along + right_m * glm::dvec2{along.y, -along.x};
    }

    // Where the total field is largest and where it lies level, along a line through the place over the sonde.
    double peak_m(const glm::dvec2& along) const {
        return extreme(along, [this](const glm::dvec2& p) { return -at(p).signal_t; });
    }
    double level_m(const glm::dvec2& along) const {
        return extreme(along, [this](const glm::dvec2& p) { return std::abs(at(p).dip_deg.value_or(90.0)); });
    }

private:
    double extreme(const glm::dvec2& along, const std::function<double(const glm::dvec2&)>& low) const {
        double best_m = 0.0;
        double best = 1e300;
        for (int i = -200; i <= 200; ++i) {
            const double m = 0.005 * i;
            const double value = low(field::plan(world_.sonde.position_m) + m * along);
            if (value < best) {
                best = value;
                best_m = m;
            }
        }
        return best_m;
    }

    field::World world_;
    field::GroundModel ground_;
    sim::Scene scene_;
    sim::Instrument instrument_;
};

field::World yard(std::string_view name, std::uint64_t seed) { return resolve(bundled(name), seed); }

field::World changed(field::World world, const std::function<void(field::World&)>& change) {
    change(world);
    return world;
}

const field::BuriedLine& line_with(const field::World& world, const std::function<bool(const field::BuriedLine&)>& is) {
    const auto at = std::ranges::find_if(world.yard.lines, is);
    REQUIRE(at != world.yard.lines.end());
    return *at;
}
bool is_bonded(const field::BuriedLine& line) { return line.connection == field::LineConnection::bonded; }
bool is_clamped(const field::BuriedLine& line) { return line.clamp_current_a > 0.0; }

void unbond(field::World& world) {
    for (field::BuriedLine& line : world.yard.lines) {
        line.connection = field::LineConnection::none;
    }
}
void without_iron(field::World& world) { world.run->metal = {}; }
void on_level_ground(field::World& world) { // the sonde as deep as before, everything else is of no matter here
    world.sonde.position_m.z = -field::depth_m(world);
    world.run.reset();
    world.yard.terrain = {};
}

// The largest that hum alone makes of the signal within a second, at a place, dB over 1 pT.
double hum_dbpt(const Seen& seen, const glm::dvec2& place, double receiver_hz, double mains_hz) {
    sim::Scene only_hum = seen.scene();
    only_hum.emissions.clear();
    REQUIRE_FALSE(only_hum.hums.empty());
    only_hum.hums.front().mains_hz = mains_hz;
    const sim::Instrument instrument = sim::perfect_instrument(seen.world().receiver);
    const sim::Pose pose{{place, field::height_m(seen.world().yard.terrain, place)}, 0.0, 0.0, 0.0};
    double most_t = 1e-18;
    for (std::int64_t tick = 1; tick <= 60; ++tick) {
        const auto signals = sim::antenna_signals_t(instrument, pose, only_hum, receiver_hz, tick, field::tick_s, true);
        double square = 0.0;
        for (std::size_t i = 0; i < 3; ++i) {
            square += std::norm(signals[i]);
        }
        most_t = std::max(most_t, std::sqrt(square));
    }
    return sim::dbpt(most_t);
}

// Least field that any turning of one coil leaves, as a share of all: the short axis of the field's ellipse.
double filled(const Seen& seen, const glm::dvec2& p) {
    const double ground_m = field::height_m(seen.world().yard.terrain, p);
    const sim::Phasor3 b = sim::emission_field_t(seen.scene().emissions.front(), {p, ground_m + 0.05});
    return glm::length(glm::cross(b.re, b.im)) / (glm::dot(b.re, b.re) + glm::dot(b.im, b.im));
}

constexpr std::array<std::uint64_t, 3> some_seeds = {1, 2, 3};

} // namespace

TEST_CASE("iron costs about 20 dB at 512 Hz over the sonde, and 33 kHz would not come out at all") {
    for (const std::uint64_t seed : some_seeds) {
        const field::World world = yard("iron-pipe", seed);
        const Seen iron(world);
        const Seen plain(changed(world, without_iron));
        const glm::dvec2 over = field::plan(world.sonde.position_m);
        const double lost_db = plain.dbpt(over) - iron.dbpt(over);
        MESSAGE(fmt::format("seed {}: mu_r {:.0f}, {:.1f} dB lost, {:.1f} dBpT left", seed,
                            world.run->metal.relative_permeability, lost_db, iron.dbpt(over)));
        CHECK(lost_db > 14.0);
        CHECK(lost_db < 36.0);
        // The depth reads as well as in plastic: loudness goes, shape stays.
        CHECK(std::abs(iron.depth_m(over) - plain.depth_m(over)) < 0.05);
        const auto high = [](field::World& w) { w.sonde.frequency_hz = 32768.0; };
        const double lost_high_db =
            Seen(changed(changed(world, high), without_iron)).dbpt(over) - Seen(changed(world, high)).dbpt(over);
        CHECK(lost_high_db > 100.0);
    }
}

TEST_CASE("on the slope the peak lies down the hill by a good part of a foot, the level line hardly moves") {
    for (const std::uint64_t seed : some_seeds) {
        const field::World world = yard("slope", seed);
        const glm::dvec2 down = field::direction_of(world.yard.terrain.slope_toward_deg);
        const auto level_sonde = [](field::World& w) {
            w.sonde.tilt_deg = 0.0;
            w.run.reset();
        };
        const Seen hill(changed(world, level_sonde));
        const Seen flat(changed(changed(world, level_sonde), on_level_ground));
        MESSAGE(fmt::format("seed {}: slope {:.1f} %, depth {:.2f} m, peak {:.2f} m down the hill (flat {:.2f} m)",
                            seed, world.yard.terrain.slope_percent, field::depth_m(world), hill.peak_m(down),
                            flat.peak_m(down)));
        CHECK(std::abs(flat.peak_m(down)) < 0.02);
        CHECK(hill.peak_m(down) > 0.10);
        const glm::dvec2 along = field::direction_of(world.sonde.heading_deg);
        CHECK(std::abs(hill.level_m(along)) < 0.03); // of a level sonde, on any ground: a plumb plane across it
    }
}

TEST_CASE("up the bank the signal is weaker than as far away on the other side") {
    for (const std::uint64_t seed : some_seeds) {
        const field::World world = yard("bank", seed);
        const field::GroundStep& step = world.yard.terrain.steps.front();
        const glm::dvec2 up = field::direction_of(step.toward_deg);
        const glm::dvec2 over = field::plan(world.sonde.position_m);
        const Seen bank(world);
        const Seen flat(changed(world, on_level_ground));
        const auto difference_db = [&](const Seen& seen) {
            return seen.dbpt(over - 2.0 * up) - seen.dbpt(over + 2.0 * up);
        };
        MESSAGE(fmt::format("seed {}: 2 m away {:.1f} dB weaker up the bank than below (flat {:.1f} dB)", seed,
                            difference_db(bank), difference_db(flat)));
        CHECK(difference_db(bank) - difference_db(flat) > 2.0);
    }
}

TEST_CASE("on the slab the depth reads more than beside it, by the height of the slab") {
    for (const std::uint64_t seed : some_seeds) {
        const field::World world = yard("slab-edge", seed);
        const auto& pad = world.yard.terrain.pads.front();
        const glm::dvec2 over = field::plan(world.sonde.position_m);
        REQUIRE(field::contains(pad.outline_m, over));
        // The nearest place off the slab.
        glm::dvec2 beside = over;
        for (int i = 1; i < 30 && beside == over; ++i) {
            const double r = 0.02 * i;
            for (int k = 0; k < 36 && beside == over; ++k) {
                const glm::dvec2 p = over + r * field::direction_of(10.0 * k);
                beside = field::contains(pad.outline_m, p) ? over : p + 0.02 * field::direction_of(10.0 * k);
            }
        }
        REQUIRE(beside != over);
        const Seen seen(world);
        const double more_m = seen.depth_m(over) - seen.depth_m(beside);
        MESSAGE(fmt::format("seed {}: slab {:.2f} m high, reads {:.2f} m on it and {:.2f} m beside", seed, pad.rise_m,
                            seen.depth_m(over), seen.depth_m(beside)));
        CHECK(more_m > pad.rise_m - 0.08); // beside the sonde it reads a little high
        CHECK(more_m < pad.rise_m + 0.03);
        CHECK(seen.dbpt(beside) - seen.dbpt(over) > 0.5);
    }
}

TEST_CASE(
    "wet clay at 33 kHz fills the null of a turned coil and holds up what is far off, at 512 Hz it does neither") {
    for (const std::uint64_t seed : some_seeds) {
        const field::World clay = yard("wet-clay", seed);
        const auto look = [&](double frequency_hz, bool with_ground) {
            return Seen(changed(clay, [&](field::World& w) {
                w.sonde.frequency_hz = frequency_hz;
                if (!with_ground) {
                    w.yard.resistivity_ohm_m.reset();
                }
            }));
        };
        const Seen high = look(32768.0, true);
        const Seen high_dry = look(32768.0, false);
        const Seen low = look(512.0, true);
        const Seen low_dry = look(512.0, false);
        const glm::dvec2 near = high.from_sonde(0.0, 0.5);
        const glm::dvec2 far = high.from_sonde(3.0, 8.0);
        MESSAGE(fmt::format(
            "seed {}: {:.0f} ohm m; null filled to {:.1f} % near, {:.1f} % far (512 Hz {:.2f} %); far off "
            "{:+.1f} dB (512 Hz {:+.2f} dB); over it {:+.2f} dB",
            seed, *clay.yard.resistivity_ohm_m, 100.0 * filled(high, near), 100.0 * filled(high, far),
            100.0 * filled(low, far), high.dbpt(far) - high_dry.dbpt(far), low.dbpt(far) - low_dry.dbpt(far),
            high.dbpt(high.from_sonde(0, 0)) - high_dry.dbpt(high.from_sonde(0, 0))));
        CHECK(filled(high_dry, far) < 1e-9);
        CHECK(filled(high, far) > 0.15);
        CHECK(filled(high, near) < 0.10);
        CHECK(filled(low, far) < 0.1 * filled(high, far));
        CHECK(std::abs(high.dbpt(far) - high_dry.dbpt(far)) > 1.0);
        CHECK(std::abs(low.dbpt(far) - low_dry.dbpt(far)) < 0.1);
        CHECK(std::abs(high.dbpt(high.from_sonde(0, 0)) - high_dry.dbpt(high.from_sonde(0, 0))) < 0.5);
    }
}

TEST_CASE("a bonded line across moves depth and level line a little and is loud far along itself, an isolated one does "
          "nothing") {
    double worst_db = 0.0;
    for (const std::uint64_t seed : some_seeds) {
        const field::World world = yard("line-across", seed);
        const field::BuriedLine& line = line_with(world, is_bonded);
        const Seen coupled(world);
        const Seen alone(changed(world, unbond));
        const Seen isolated(changed(world, [](field::World& w) {
            for (field::BuriedLine& l : w.yard.lines) {
                l.connection = field::LineConnection::isolated;
            }
        }));
        const Seen at_512(changed(world, [](field::World& w) { w.sonde.frequency_hz = 512.0; }));
        const glm::dvec2 over = coupled.from_sonde(0.0, 0.0);
        const glm::dvec2 along = field::direction_of(world.sonde.heading_deg);
        const double off = coupled.depth_m(over) / alone.depth_m(over) - 1.0;
        const double lift_m = coupled.depth_m(over, 0.5) - coupled.depth_m(over);
        const double shift_m = coupled.level_m(along) - alone.level_m(along);
        const glm::dvec2 a = field::plan(line.points_m.front());
        const glm::dvec2 b = field::plan(line.points_m.back());
        const glm::dvec2 end = glm::distance(a, over) > glm::distance(b, over) ? a : b;
        const double far_db = coupled.dbpt(end) - alone.dbpt(end);
        MESSAGE(
            fmt::format("seed {}: depth {:+.1f} %, lift of 0.50 m reads {:.3f} m, level line moved {:+.3f} m, {:.1f} m "
                        "along the pipe {:+.1f} dB",
                        seed, 100.0 * off, lift_m, shift_m, glm::distance(end, over), far_db));
        CHECK(std::abs(off) > 0.003);
        CHECK(std::abs(off) < 0.10);
        CHECK(std::abs(shift_m) >= 0.005);
        CHECK(std::abs(shift_m) < 0.08);
        CHECK(std::abs(lift_m - 0.5) < 0.03); // it hardly shows there
        CHECK(far_db > 6.0);
        worst_db = std::max(worst_db, far_db);
        CHECK(isolated.dbpt(end) == alone.dbpt(end));
        CHECK(isolated.depth_m(over) == alone.depth_m(over));
        CHECK(std::abs(at_512.depth_m(over) / alone.depth_m(over) - 1.0) < 0.003);
        CHECK(std::abs(at_512.dbpt(end) - alone.dbpt(end)) < 0.2 * far_db);
    }
    CHECK(worst_db > 15.0);
}

TEST_CASE("the bonded cable beside the diving branch is heard far along it, and leaves a level sonde alone") {
    for (const std::uint64_t seed : some_seeds) {
        const field::World world = yard("line-beside", seed);
        const field::BuriedLine& line = line_with(world, is_bonded);
        const Seen coupled(world);
        const Seen alone(changed(world, unbond));
        const glm::dvec2 over = coupled.from_sonde(0.0, 0.0);
        const glm::dvec2 a = field::plan(line.points_m.front());
        const glm::dvec2 b = field::plan(line.points_m.back());
        const glm::dvec2 end = glm::distance(a, over) > glm::distance(b, over) ? a : b;
        const auto level = [](field::World& w) {
            w.sonde.tilt_deg = 0.0;
            w.run.reset();
        };
        const Seen level_coupled(changed(world, level));
        const Seen level_alone(changed(changed(world, level), unbond));
        const double far_db = coupled.dbpt(end) - alone.dbpt(end);
        MESSAGE(fmt::format("seed {}: {:.1f} m along the cable {:+.1f} dB; level sonde {:+.3f} dB", seed,
                            glm::distance(end, over), far_db, level_coupled.dbpt(end) - level_alone.dbpt(end)));
        CHECK(far_db > 1.0);
        CHECK(std::abs(level_coupled.dbpt(end) - level_alone.dbpt(end)) < 0.3 * std::abs(far_db));
    }
}

TEST_CASE("with 50 Hz mains the hum at 640 Hz is louder than at 512 Hz, by the nearness of its harmonic") {
    for (const std::uint64_t seed : some_seeds) {
        const Seen seen(yard("hum-and-640", seed));
        const glm::dvec2 over = seen.from_sonde(0.0, 0.0);
        const double at_640 = hum_dbpt(seen, over, 640.0, 50.0);
        const double at_512 = hum_dbpt(seen, over, 512.0, 50.0);
        const double at_640_of_60 = hum_dbpt(seen, over, 640.0, 60.0);
        const double at_512_of_60 = hum_dbpt(seen, over, 512.0, 60.0);
        sim::Scene quiet = seen.scene();
        quiet.hums.clear();
        MESSAGE(
            fmt::format("seed {}: hum over the sonde {:.1f} dBpT at 640 Hz, {:.1f} at 512 Hz; with 60 Hz mains {:.1f} "
                        "and {:.1f}",
                        seed, at_640, at_512, at_640_of_60, at_512_of_60));
        CHECK(at_640 > at_512 + 10.0);
        CHECK(at_512 > at_512_of_60 + 10.0);
    }
}

TEST_CASE("under the wires the hum is loud in the ear and not in the number") {
    for (const std::uint64_t seed : some_seeds) {
        const field::World world = yard("hum-overhead", seed);
        const Seen seen(world);
        const glm::dvec2 over = seen.from_sonde(0.0, 0.0);
        const double ear = sim::dbpt(sim::hum_t(seen.scene(), {over, 0.05}));
        const double number = hum_dbpt(seen, over, 512.0, 60.0);
        MESSAGE(fmt::format("seed {}: {:.1f} dBpT of hum to hear, {:.1f} dBpT of it in the signal, sonde {:.1f} dBpT",
                            seed, ear, number, seen.dbpt(over)));
        CHECK(ear > seen.dbpt(over) + 15.0);
        CHECK(number < seen.dbpt(over) - 30.0);
    }
}

TEST_CASE("set to wide the receiver lets the mains' harmonics beside 512 Hz in, set to narrow it does not") {
    for (const std::uint64_t seed : some_seeds) {
        const field::World world = yard("wide-or-narrow", seed);
        REQUIRE(world.receiver.has_wide);
        const Seen narrow(world);
        const Seen wide(
            changed(world, [](field::World& w) { w.receiver = sim::in_bandwidth(w.receiver, sim::Bandwidth::wide); }));
        const glm::dvec2 over = narrow.from_sonde(0.0, 0.0);
        const double in_narrow = hum_dbpt(narrow, over, 512.0, 60.0);
        const double in_wide = hum_dbpt(wide, over, 512.0, 60.0);
        MESSAGE(fmt::format("seed {}: hum in the signal {:.1f} dBpT wide, {:.1f} narrow, sonde {:.1f} dBpT", seed,
                            in_wide, in_narrow, narrow.dbpt(over)));
        CHECK(in_wide > in_narrow + 20.0);
        CHECK(in_wide > narrow.dbpt(over) - 35.0);
        CHECK(in_narrow < narrow.dbpt(over) - 40.0);
    }
}

TEST_CASE("another crew's sonde on our frequency is as loud as ours, and only ours follows the cable") {
    for (const std::uint64_t seed : some_seeds) {
        const field::World world = yard("other-crew", seed);
        const Seen both(world);
        const glm::dvec2 ours = field::plan(world.sonde.position_m);
        const glm::dvec2 theirs = field::plan(world.other_sondes.front().sonde.position_m);
        const Seen pulled(changed(world, [](field::World& w) {
            const double along_m = field::project(*w.run, w.sonde.position_m).along_m - 1.0;
            w.sonde.position_m = field::sonde_centre_m(*w.run, along_m, w.sheet.sonde_above_invert_m);
        }));
        MESSAGE(fmt::format(
            "seed {}: {:.1f} dBpT over ours, {:.1f} over theirs; pulled back 1 m {:+.1f} dB over ours, {:+.2f} "
            "over theirs",
            seed, both.dbpt(ours), both.dbpt(theirs), pulled.dbpt(ours) - both.dbpt(ours),
            pulled.dbpt(theirs) - both.dbpt(theirs)));
        CHECK(both.dbpt(theirs) > both.dbpt(ours) - 6.0);
        CHECK(both.dbpt(ours) - pulled.dbpt(ours) > 1.0);
        CHECK(std::abs(pulled.dbpt(theirs) - both.dbpt(theirs)) < 0.3);
    }
}

TEST_CASE("another crew's sonde on another frequency is heard only by a receiver that is tuned to it") {
    for (const std::uint64_t seed : some_seeds) {
        const field::World world = yard("other-frequency", seed);
        const Seen both(world);
        const Seen alone(changed(world, [](field::World& w) { w.other_sondes.clear(); }));
        const glm::dvec2 theirs = field::plan(world.other_sondes.front().sonde.position_m);
        CHECK(std::abs(both.dbpt(theirs) - alone.dbpt(theirs)) < 0.1);
        CHECK(both.dbpt(theirs, 640.0) > both.dbpt(field::plan(world.sonde.position_m)));
    }
}

TEST_CASE("the clamped line is as loud along its length, and does not care where the sonde is") {
    for (const std::uint64_t seed : some_seeds) {
        const field::World world = yard("clamped-line", seed);
        const field::BuriedLine& line = line_with(world, is_clamped);
        const Seen seen(world);
        const Seen no_clamp(changed(world, [](field::World& w) {
            for (field::BuriedLine& l : w.yard.lines) {
                l.clamp_current_a = 0.0;
            }
        }));
        const glm::dvec2 a = field::plan(line.points_m.front());
        const glm::dvec2 b = field::plan(line.points_m.back());
        const glm::dvec2 sonde = field::plan(world.sonde.position_m);
        const glm::dvec2 way = glm::normalize(b - a);
        const double foot_m = glm::dot(sonde - a, way);
        // Away from the sonde along the line, toward its longer part: two places 4 m apart.
        const double sign = foot_m > 0.5 * glm::distance(a, b) ? -1.0 : 1.0;
        const double room_m = sign < 0.0 ? foot_m : glm::distance(a, b) - foot_m;
        const glm::dvec2 near = a + (foot_m + sign * 0.5 * room_m) * way;
        const glm::dvec2 far = a + (foot_m + sign * 0.9 * room_m) * way;
        MESSAGE(fmt::format("seed {}: {:.1f} and {:.1f} dBpT on the line {:.1f} m apart (without it {:.1f} and {:.1f})",
                            seed, seen.dbpt(near), seen.dbpt(far), glm::distance(near, far), no_clamp.dbpt(near),
                            no_clamp.dbpt(far)));
        CHECK(std::abs(seen.dbpt(far) - seen.dbpt(near)) < 6.0);
        CHECK(seen.dbpt(far) > no_clamp.dbpt(far) + 6.0);
    }
}

TEST_CASE("deep and noisy: the noise beside the signal is more than ten times that of the plain deep yard") {
    const auto noise_share = [](const field::World& world) {
        const double noise_t = sim::noise_density_t(world.receiver, world.sonde.frequency_hz) *
                               std::sqrt(sim::noise_bandwidth_hz(world.receiver));
        return noise_t / Seen(world).at(field::plan(world.sonde.position_m)).upper_t;
    };
    for (const std::uint64_t seed : some_seeds) {
        const double noisy = noise_share(yard("deep-and-noisy", seed));
        const double plain = noise_share(yard("deep", seed));
        MESSAGE(fmt::format("seed {}: noise {:.2f} % of the signal above (plain deep {:.2f} %)", seed, 100.0 * noisy,
                            100.0 * plain));
        CHECK(noisy > 10.0 * plain);
        CHECK(noisy > 0.005);
    }
}

TEST_CASE("two coils turned across the sonde hear next to nothing") {
    for (const std::uint64_t seed : some_seeds) {
        const Seen seen(yard("twin-coil", seed));
        const glm::dvec2 over = seen.from_sonde(0.0, 0.0);
        const double turned = sim::dbpt(seen.at(over, {}, 0.0, 90.0).signal_t);
        CHECK(seen.dbpt(over) > turned + 20.0);
        CHECK(seen.at(over).depth_m.has_value());
    }
}

TEST_CASE("in the yards that combine difficulties each of them is there") {
    for (const std::uint64_t seed : some_seeds) {
        const field::World hill = yard("iron-hum-hill", seed);
        const Seen seen(hill);
        const glm::dvec2 over = seen.from_sonde(0.0, 0.0);
        const double lost_db = Seen(changed(hill, without_iron)).dbpt(over) - seen.dbpt(over);
        const double hum = hum_dbpt(seen, over, 512.0, 50.0);
        const glm::dvec2 down = field::direction_of(hill.yard.terrain.slope_toward_deg);
        const double peak_m = seen.peak_m(down);
        MESSAGE(fmt::format("iron-hum-hill, seed {}: iron {:.1f} dB, hum {:.1f} dB under the sonde, peak {:.2f} m down",
                            seed, lost_db, seen.dbpt(over) - hum, peak_m));
        CHECK(lost_db > 14.0);
        CHECK(hum > seen.dbpt(over) - 60.0);

        const field::World corner = yard("clay-line-bank", seed);
        const Seen all(corner);
        const glm::dvec2 at = all.from_sonde(0.0, 0.0);
        const Seen both_off(
            changed(changed(corner, unbond), [](field::World& w) { w.yard.resistivity_ohm_m.reset(); }));
        const Seen unbonded(changed(corner, unbond));
        const glm::dvec2 far = all.from_sonde(2.0, 8.0);
        const glm::dvec2 up = field::direction_of(corner.yard.terrain.steps.front().toward_deg);
        const double from_line = all.depth_m(at) / unbonded.depth_m(at) - 1.0;
        MESSAGE(fmt::format(
            "clay-line-bank, seed {}: null filled to {:.1f} % far off ({:.1f} % in dry ground), line {:+.1f} % "
            "of depth, ground {:+.2f} m at 3 m toward the bank",
            seed, 100.0 * filled(unbonded, far), 100.0 * filled(both_off, far), 100.0 * from_line,
            field::height_m(corner.yard.terrain, at + 3.0 * up)));
        CHECK(filled(both_off, far) < 1e-9);
        CHECK(filled(unbonded, far) > 0.03);
        CHECK(std::abs(from_line) > 0.003);
        CHECK(field::height_m(corner.yard.terrain, at + 3.0 * up) > 0.2);

        const field::World sum = yard("slope-slab-wires", seed);
        const Seen damp(sum);
        const Seen dry(changed(sum, [](field::World& w) { w.yard.resistivity_ohm_m.reset(); }));
        const sim::Scene scene = field::scene_of(sum, field::ground_model_of(sum), sum.sonde);
        const double ear_dbpt = sim::dbpt(sim::hum_t(scene, sum.sonde.position_m + glm::dvec3{0.0, 0.0, 2.0}));
        const double downhill_m = damp.peak_m(field::direction_of(sum.yard.terrain.slope_toward_deg));
        const glm::dvec2 away = damp.from_sonde(2.0, 8.0);
        const double clay_db = damp.dbpt(away) - dry.dbpt(away);
        MESSAGE(fmt::format(
            "slope-slab-wires, seed {}: peak {:.2f} m down the slope, slab {:.2f} m high, hum {:.0f} dBpT in the "
            "ear, clay {:+.2f} dB at 8 m",
            seed, downhill_m, sum.yard.terrain.pads.front().rise_m, ear_dbpt, clay_db));
        CHECK(downhill_m > 0.2);
        CHECK(sum.yard.terrain.pads.front().rise_m == 0.15);
        CHECK(ear_dbpt > 85.0);
        CHECK(std::abs(clay_db) > 0.02);
    }
}
