#include "ui/window/field_map.hpp"

#include "sim/units.hpp"

#include <algorithm>
#include <atomic>
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

sim::MapGrid grid_of(const FieldMapTask& task, int cells) {
    const double cell_m = std::max(task.width_m, task.length_m) / cells;
    const auto whole = [cell_m](double side_m) { return static_cast<int>(std::ceil(side_m / cell_m - 1e-9)); };
    return {0.5 * cell_m, 0.5 * cell_m, cell_m, whole(task.width_m), whole(task.length_m)};
}

double height_at(const FieldMapTask& task, const sim::MapGrid& grid, int column, int row) {
    return map_height_m(task, {grid.west_m + grid.step_m * column, grid.south_m + grid.step_m * row});
}

struct Heights {
    double least_m = 0.0;
    double most_m = 0.0;
};

// By looking at about a hundred places a side: what lies between them on a slope, a step or a pad stays within a hand's
// breadth of that, which is allowed for.
Heights heights_of(const FieldMapTask& task, const sim::MapGrid& grid) {
    constexpr double between_m = 0.1;
    const double first = height_at(task, grid, 0, 0);
    Heights heights{first, first};
    if (field::is_flat(task.terrain)) {
        return heights;
    }
    const int step = std::max(1, std::max(grid.columns, grid.rows) / 100);
    for (int row = 0; row < grid.rows + step; row += step) {
        for (int column = 0; column < grid.columns + step; column += step) {
            const double z = height_at(task, grid, std::min(column, grid.columns - 1), std::min(row, grid.rows - 1));
            heights = {std::min(heights.least_m, z), std::max(heights.most_m, z)};
        }
    }
    return {heights.least_m - between_m, heights.most_m + between_m};
}

// work(0) here and work(1) on a thread of its own, if the machine has two. What either throws comes out here.
template <typename Work>
void side_by_side(const Work& work) {
    std::exception_ptr trouble;
    if (std::thread::hardware_concurrency() < 2) {
        work(0);
        work(1);
        return;
    }
    {
        const std::jthread other([&] {
            try {
                work(1);
            } catch (...) {
                trouble = std::current_exception();
            }
        });
        work(0);
    }
    if (trouble) {
        std::rethrow_exception(trouble);
    }
}

// The rows of a sheet, in bands that whichever thread is free takes next.
class Rows {
public:
    Rows(const FieldMapTask& task, FieldMapSheet& sheet, const sim::SceneMap& map)
        : task_(task), sheet_(sheet), map_(map),
          band_rows_(std::max(1, static_cast<int>(band_places / static_cast<std::size_t>(sheet.grid.columns)))),
          bands_((sheet.grid.rows + band_rows_ - 1) / band_rows_), done_(static_cast<std::size_t>(bands_)) {}

    // Until nothing is left or `go_on` says no.
    template <typename GoOn>
    void work(const GoOn& go_on) {
        std::vector<double> field_t;
        std::vector<double> z_m;
        for (int band = next_++; band < bands_ && !given_up_; band = next_++) {
            work_band(band, field_t, z_m);
            done_[static_cast<std::size_t>(band)] = true;
            if (!go_on()) {
                given_up_ = true;
            }
        }
    }
    bool given_up() const { return given_up_; }
    int ready() { // rows from the south; asked by one thread only
        while (first_open_ < bands_ && done_[static_cast<std::size_t>(first_open_)]) {
            ++first_open_;
        }
        return std::min(sheet_.grid.rows, first_open_ * band_rows_);
    }

private:
    void work_band(int band, std::vector<double>& field_t, std::vector<double>& z_m) {
        const sim::MapGrid& grid = sheet_.grid;
        const int first = band * band_rows_;
        const int end = std::min(grid.rows, first + band_rows_);
        const auto columns = static_cast<std::size_t>(grid.columns);
        const std::size_t begin = static_cast<std::size_t>(first) * columns;
        const std::size_t places = static_cast<std::size_t>(end - first) * columns;
        z_m.clear();
        if (field::is_flat(task_.terrain)) {
            z_m.push_back(height_at(task_, grid, 0, 0));
        } else {
            z_m.reserve(places);
            for (int row = first; row < end; ++row) {
                for (int column = 0; column < grid.columns; ++column) {
                    z_m.push_back(height_at(task_, grid, column, row));
                }
            }
        }
        field_t.resize(places);
        const bool dips = !task_.scene.emissions.empty();
        map_.rows_t(first, z_m, field_t, dips ? std::span(sheet_.dip_deg).subspan(begin, places) : std::span<float>{});
        std::ranges::transform(field_t, sheet_.dbpt.begin() + static_cast<std::ptrdiff_t>(begin),
                               [](double b) { return static_cast<float>(sim::dbpt(b)); });
    }

    const FieldMapTask& task_;
    FieldMapSheet& sheet_;
    const sim::SceneMap& map_;
    int band_rows_;
    int bands_;
    std::vector<std::atomic<bool>> done_;
    int first_open_ = 0;
    std::atomic<int> next_ = 0;
    std::atomic<bool> given_up_ = false;
};

} // namespace

FieldMapTask field_map_task(const field::Setting& setting) { return field_map_task(setting, setting.world.sonde); }

FieldMapTask field_map_task(const field::Setting& setting, const field::SondeTruth& sonde) {
    const field::World& world = setting.world;
    FieldMapTask task;
    task.scene = field::scene_of(world, setting.ground, sonde);
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

FieldMapLines field_map_lines(const FieldMapSheet& sheet) {
    FieldMapLines lines;
    side_by_side([&](int which) {
        if (which == 0) {
            lines.signal = sim::isolines(sheet.grid, sheet.dbpt, sim::whole_levels(sheet.dbpt, signal_line_db));
        } else {
            lines.dip = sim::isolines(sheet.grid, sheet.dip_deg, dip_lines_deg);
        }
    });
    return lines;
}

FieldMapSheet field_map_sheet(const FieldMapTask& task, int cells,
                              const std::function<bool(const FieldMapSheet&, int)>& rows_ready) {
    FieldMapSheet sheet;
    sheet.grid = grid_of(task, cells);
    const auto places = static_cast<std::size_t>(sheet.grid.columns) * static_cast<std::size_t>(sheet.grid.rows);
    sheet.dbpt.resize(places);
    sheet.dip_deg.resize(places);
    const Heights heights = heights_of(task, sheet.grid);
    const sim::SceneMap map(task.scene, sheet.grid, heights.least_m, heights.most_m, task.shares);
    Rows rows(task, sheet, map);
    side_by_side(
        [&](int which) { rows.work([&] { return which != 0 || !rows_ready || rows_ready(sheet, rows.ready()); }); });
    if (!rows.given_up()) {
        sheet.lines = field_map_lines(sheet);
    }
    return sheet;
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
    int handed = 0;
    const auto band_to = [&](const FieldMapSheet& sheet, int row) {
        const auto columns = static_cast<std::ptrdiff_t>(sheet.grid.columns);
        const auto rows_of = [&](const std::vector<float>& all) {
            return std::vector<float>(all.begin() + handed * columns, all.begin() + row * columns);
        };
        FieldMapBand band{number, sheet.grid.columns,  sheet.grid.rows,        sheet.grid.step_m,
                          handed, rows_of(sheet.dbpt), rows_of(sheet.dip_deg), {}};
        handed = row;
        return band;
    };
    Clock::time_point woken = Clock::now();
    FieldMapSheet sheet = field_map_sheet(
        task_, field_map_passes.at(static_cast<std::size_t>(number)), [&](const FieldMapSheet& so_far, int rows) {
            // The last row waits for the lines, so that whoever has it has all.
            const int ready = std::min(rows, so_far.grid.rows - 1);
            if (ready > handed && number > 0) { // the first is a moment's work, and wanted whole
                hand_over(band_to(so_far, ready));
            }
            if (number > 0 && Clock::now() - woken >= wake_interval && !stop.stop_requested()) {
                wake_();
                woken = Clock::now();
            }
            return !stop.stop_requested();
        });
    if (stop.stop_requested()) {
        return false;
    }
    FieldMapBand last = band_to(sheet, sheet.grid.rows);
    last.lines = std::move(sheet.lines);
    hand_over(std::move(last));
    wake_();
    return true;
}

// ---- Colours ----

namespace {

using Anchor = std::array<std::uint8_t, 3>;

// Straight between anchors that stand evenly.
ImU32 mixed_of(std::span<const Anchor> anchors, double share) {
    const double at = std::clamp(share, 0.0, 1.0) * (static_cast<double>(anchors.size()) - 1.0);
    const std::size_t below = std::min(static_cast<std::size_t>(at), anchors.size() - 2);
    const double part = at - static_cast<double>(below);
    Anchor colour{};
    for (std::size_t k = 0; k < 3; ++k) {
        const double mixed = anchors[below][k] * (1.0 - part) + anchors[below + 1][k] * part;
        colour[k] = static_cast<std::uint8_t>(std::lround(mixed));
    }
    return IM_COL32(colour[0], colour[1], colour[2], 255);
}

} // namespace

ImU32 cividis(double share) {
    static constexpr auto anchors = std::to_array<Anchor>({{0x00, 0x22, 0x4e},
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
    return mixed_of(anchors, share);
}

ImU32 viridis(double share) {
    static constexpr auto anchors = std::to_array<Anchor>({{0x44, 0x01, 0x54},
                                                           {0x48, 0x25, 0x75},
                                                           {0x41, 0x44, 0x87},
                                                           {0x34, 0x5f, 0x8d},
                                                           {0x2a, 0x78, 0x8e},
                                                           {0x21, 0x90, 0x8c},
                                                           {0x22, 0xa8, 0x84},
                                                           {0x43, 0xbf, 0x71},
                                                           {0x7a, 0xd1, 0x51},
                                                           {0xbc, 0xdf, 0x27},
                                                           {0xfd, 0xe7, 0x25}});
    return mixed_of(anchors, share);
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
