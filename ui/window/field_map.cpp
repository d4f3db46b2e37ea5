#include "ui/window/field_map.hpp"

#include "sim/units.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <exception>
#include <limits>
#include <utility>

namespace sondeyard::ui {

namespace {

using Clock = std::chrono::steady_clock;

constexpr std::size_t band_places = 16384;                    // a few milliseconds, what giving up may take
constexpr auto wake_interval = std::chrono::milliseconds(50); // every waking is a frame, and frames are not free either

struct Pass {
    sim::MapGrid grid;
    std::vector<double> z_m; // of every place, or one for all
};

Pass pass_of(const FieldMapTask& task, int cells) {
    Pass pass;
    const double cell_m = std::max(task.width_m, task.length_m) / cells;
    const auto whole = [cell_m](double side_m) { return static_cast<int>(std::ceil(side_m / cell_m - 1e-9)); };
    pass.grid = {0.5 * cell_m, 0.5 * cell_m, cell_m, whole(task.width_m), whole(task.length_m)};
    if (field::is_flat(task.terrain)) {
        pass.z_m = {map_height_m(task, {0.0, 0.0})};
    }
    return pass;
}

} // namespace

FieldMapTask field_map_task(const field::Setting& setting) {
    const field::World& world = setting.world;
    FieldMapTask task;
    task.scene = field::scene_of(world, setting.ground, world.sonde);
    task.shares = sim::shares_heard(task.scene, world.receiver, world.sonde.frequency_hz);
    task.terrain = world.yard.terrain;
    task.width_m = world.yard.width_m;
    task.length_m = world.yard.length_m;
    task.antenna_m = world.receiver.tip_to_antenna_m;
    return task;
}

double map_height_m(const FieldMapTask& task, const glm::dvec2& place_m) {
    return field::height_m(task.terrain, place_m) + task.antenna_m;
}

// ---- Beside the window ----

FieldMap::FieldMap(FieldMapTask task, std::function<void()> wake)
    : task_(std::move(task)), wake_(std::move(wake)), thread_([this](const std::stop_token& stop) { work(stop); }) {}

std::vector<FieldMapBand> FieldMap::take() {
    const std::scoped_lock lock(mutex_);
    return std::exchange(ready_, {});
}

std::string FieldMap::trouble() const {
    const std::scoped_lock lock(mutex_);
    return trouble_;
}

void FieldMap::hand_over(FieldMapBand band) {
    const std::scoped_lock lock(mutex_);
    ready_.push_back(std::move(band));
}

void FieldMap::work(const std::stop_token& stop) {
    try {
        for (int pass = 0; pass < std::ssize(field_map_passes); ++pass) {
            if (!work_pass(stop, pass)) {
                return;
            }
        }
    } catch (const std::exception& e) { // else it would end the program
        {
            const std::scoped_lock lock(mutex_);
            trouble_ = e.what();
        }
        wake_();
    }
}

bool FieldMap::work_pass(const std::stop_token& stop, int number) {
    Pass pass = pass_of(task_, field_map_passes.at(static_cast<std::size_t>(number)));
    const sim::MapGrid& grid = pass.grid;
    const auto columns = static_cast<std::size_t>(grid.columns);
    for (int row = 0; row < grid.rows && pass.z_m.size() != 1; ++row) {
        if (stop.stop_requested()) {
            return false;
        }
        for (int column = 0; column < grid.columns; ++column) {
            pass.z_m.push_back(
                map_height_m(task_, {grid.west_m + grid.step_m * column, grid.south_m + grid.step_m * row}));
        }
    }
    const auto [lowest, highest] = std::ranges::minmax(pass.z_m);
    const sim::SceneMap map(task_.scene, grid, lowest, highest, task_.shares);
    const int band_rows = std::max(1, static_cast<int>(band_places / columns));
    Clock::time_point woken = Clock::now();
    std::vector<double> field_t;
    for (int first = 0; first < grid.rows; first += band_rows) {
        if (stop.stop_requested()) {
            return false;
        }
        const auto places = static_cast<std::size_t>(std::min(band_rows, grid.rows - first)) * columns;
        field_t.resize(places);
        const bool level = pass.z_m.size() == 1;
        const std::size_t begin = level ? 0 : static_cast<std::size_t>(first) * columns;
        map.rows_t(first, std::span(pass.z_m).subspan(begin, level ? 1 : places), field_t);
        FieldMapBand band{number, grid.columns, grid.rows, grid.step_m, first, {}};
        band.dbpt.reserve(places);
        for (const double b : field_t) {
            band.dbpt.push_back(static_cast<float>(sim::dbpt(b)));
        }
        hand_over(std::move(band));
        if (first + band_rows >= grid.rows || Clock::now() - woken >= wake_interval) {
            wake_();
            woken = Clock::now();
        }
    }
    return true;
}

// ---- Colours ----

ImU32 cividis(double share) {
    static constexpr auto anchors = std::to_array<std::array<std::uint8_t, 3>>({{0x00, 0x22, 0x4e},
                                                                                {0x00, 0x2e, 0x6a},
                                                                                {0x1a, 0x38, 0x6f},
                                                                                {0x32, 0x43, 0x6d},
                                                                                {0x43, 0x4e, 0x6c},
                                                                                {0x52, 0x59, 0x6d},
                                                                                {0x61, 0x65, 0x6f},
                                                                                {0x6f, 0x70, 0x73},
                                                                                {0x7c, 0x7b, 0x78},
                                                                                {0x8b, 0x87, 0x78},
                                                                                {0x9b, 0x93, 0x76},
                                                                                {0xab, 0xa0, 0x72},
                                                                                {0xbb, 0xad, 0x6c},
                                                                                {0xcc, 0xba, 0x64},
                                                                                {0xdd, 0xc9, 0x58},
                                                                                {0xef, 0xd7, 0x48},
                                                                                {0xfe, 0xe8, 0x38}});
    const double at = std::clamp(share, 0.0, 1.0) * (static_cast<double>(anchors.size()) - 1.0);
    const std::size_t below = std::min(static_cast<std::size_t>(at), anchors.size() - 2);
    const double part = at - static_cast<double>(below);
    std::array<std::uint8_t, 3> colour{};
    for (std::size_t k = 0; k < 3; ++k) {
        const double mixed = anchors[below][k] * (1.0 - part) + anchors[below + 1][k] * part;
        colour[k] = static_cast<std::uint8_t>(std::lround(mixed));
    }
    return IM_COL32(colour[0], colour[1], colour[2], 255);
}

double FieldMapRange::share(double dbpt) const {
    return std::clamp((dbpt - low_dbpt) / (high_dbpt - low_dbpt), 0.0, 1.0);
}

FieldMapRange field_map_range(const FieldMapTask& task, const std::vector<float>& coarse_dbpt) {
    double least = std::numeric_limits<double>::infinity();
    double most = -least;
    const auto include = [&](double dbpt) {
        if (std::isfinite(dbpt)) {
            least = std::min(least, dbpt);
            most = std::max(most, dbpt);
        }
    };
    std::ranges::for_each(coarse_dbpt, include);
    for (const sim::Emission& emission : task.scene.emissions) {
        for (const sim::GroundedDipole& source : emission.dipoles) {
            const glm::dvec2 place = field::plan(source.dipole.position_m);
            include(sim::dbpt(sim::whole_field_t(task.scene, task.shares, {place, map_height_m(task, place)})));
        }
    }
    FieldMapRange range;
    if (most < least) {
        return range;
    }
    range.high_dbpt = 10.0 * std::ceil(most / 10.0);
    range.low_dbpt = std::max(range.high_dbpt - field_map_span_db, 10.0 * std::floor(least / 10.0));
    range.low_dbpt = std::min(range.low_dbpt, range.high_dbpt - 10.0);
    return range;
}

} // namespace sondeyard::ui
