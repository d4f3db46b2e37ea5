#include "ui/cli/bench_fields.hpp"

#include "field/scene.hpp"
#include "scenarios/scenario.hpp"
#include "sim/batch.hpp"
#include "sim/dipole.hpp"
#include "sim/map.hpp"
#include "ui/cli/commands.hpp"
#include "ui/window/field_map.hpp"
#include "ui/window/plan.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <functional>
#include <thread>

namespace sondeyard::ui {

namespace {

constexpr std::size_t in_l1 = 1024;          // places: 48 KB with their fields
constexpr std::size_t in_memory = 1'000'000; // 48 MB
constexpr glm::dvec3 position_m{0.0, 0.0, -1.5};
constexpr glm::dvec3 moment_am2{0.05, 0.08, -0.03};

volatile double sink = 0.0; // keeps work whose result nobody uses

// An array of doubles on a line of the cache.
class Column {
public:
    explicit Column(std::size_t n) : lines_((n + 7) / 8), n_(n) {}
    std::span<double> all() { return {lines_.front().value.data(), n_}; }

private:
    struct alignas(64) Line {
        std::array<double, 8> value{};
    };
    std::vector<Line> lines_;
    std::size_t n_;
};

struct Columns {
    Column x, y, z, bx, by, bz;
    sim::PlacesSoA places;
    sim::FieldsSoA fields;

    explicit Columns(std::size_t n)
        : x(n), y(n), z(n), bx(n), by(n), bz(n), places{x.all(), y.all(), z.all()},
          fields{bx.all(), by.all(), bz.all()} {
        for (std::size_t i = 0; i < n; ++i) {
            x.all()[i] = 1e-3 * static_cast<double>(i % 1000);
            y.all()[i] = 0.5;
            z.all()[i] = 0.05;
        }
    }
    Columns(const Columns&) = delete; // the spans look into the columns
    Columns& operator=(const Columns&) = delete;
    ~Columns() = default;
};

void one_by_one(const sim::PlacesSoA& in, const sim::FieldsSoA& out) {
    const sim::Dipole sonde{position_m, {moment_am2, glm::dvec3{0.0}}, 512.0};
    for (std::size_t i = 0; i < in.x_m.size(); ++i) {
        const glm::dvec3 b = sim::dipole_field_t(sonde, {in.x_m[i], in.y_m[i], in.z_m[i]}).re;
        out.x_t[i] = b.x;
        out.y_t[i] = b.y;
        out.z_t[i] = b.z;
    }
}

void plain(const sim::PlacesSoA& in, const sim::FieldsSoA& out) {
    sim::plain_dipole_fields_t(position_m, moment_am2, in, out);
}

void batch(const sim::PlacesSoA& in, const sim::FieldsSoA& out) {
    sim::dipole_fields_t(position_m, moment_am2, in, out);
}

// Nothing but the traffic of a loop that writes through the caches: three columns read, three written, each of these
// read before it is written. The kernel, which goes past the caches when there is much, may be faster.
void pass_on(const sim::PlacesSoA& in, const sim::FieldsSoA& out) {
    for (std::size_t i = 0; i < in.x_m.size(); ++i) {
        out.x_t[i] = 2.0 * in.x_m[i];
        out.y_t[i] = 2.0 * in.y_m[i];
        out.z_t[i] = 2.0 * in.z_m[i];
    }
}

struct Task {
    std::string name;
    std::size_t items;
    std::function<void()> work;
    std::vector<double> seconds{};
};

double seconds_of(const std::function<void()>& work) {
    const auto begin = std::chrono::steady_clock::now();
    work();
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
}

// About what one place of a map costs, ns.
double work_of(const sim::Scene& scene) {
    double work = 0.0;
    const auto add_line = [&work](const sim::LineCurrent& line) { work += static_cast<double>(line.points_m.size()); };
    for (const sim::Emission& emission : scene.emissions) {
        for (const sim::GroundedDipole& source : emission.dipoles) {
            work += source.ground ? 15.0 : 2.0;
        }
        std::ranges::for_each(emission.currents, add_line);
    }
    for (const sim::Hum& hum : scene.hums) {
        std::ranges::for_each(hum.fundamental, add_line);
    }
    return work;
}

struct Hardest {
    std::string name;
    field::Terrain terrain;
    sim::MapGrid grid;
    sim::Scene scene;
};

Hardest hardest_map() {
    Hardest hardest;
    double most = -1.0;
    for (const std::string& name : scenarios::bundled_names()) {
        const field::World world = scenarios::resolve(scenarios::bundled(name), default_seed);
        sim::Scene scene = field::scene_of(world, field::ground_model_of(world), world.sonde);
        if (work_of(scene) > most) {
            most = work_of(scene);
            const double side_m = std::max(world.yard.width_m, world.yard.length_m);
            hardest = {name, world.yard.terrain, {0.0, 0.0, side_m / 1023.0, 1024, 1024}, std::move(scene)};
        }
    }
    return hardest;
}

// Rows in bands of 16, to whichever of two threads is free.
void draw_map(const Hardest& of, std::vector<double>& out_t) {
    constexpr double antenna_m = 0.05; // over the ground, tip down
    constexpr int band = 16;
    const auto height = [&of](int column, int row) {
        return antenna_m + field::height_m(of.terrain, {of.grid.west_m + of.grid.step_m * column,
                                                        of.grid.south_m + of.grid.step_m * row});
    };
    double low = height(0, 0);
    double high = low;
    for (int row = 0; row < of.grid.rows; row += 31) {
        for (int column = 0; column < of.grid.columns; column += 31) {
            low = std::min(low, height(column, row));
            high = std::max(high, height(column, row));
        }
    }
    const sim::SceneMap map(of.scene, of.grid, low, high);
    const auto columns = static_cast<std::size_t>(of.grid.columns);
    std::atomic<int> next = 0;
    const auto draw = [&] {
        std::vector<double> z_m(field::is_flat(of.terrain) ? 1 : band * columns, low);
        for (int first = next.fetch_add(band); first < of.grid.rows; first = next.fetch_add(band)) {
            for (std::size_t i = 0; z_m.size() > 1 && i < z_m.size(); ++i) {
                z_m[i] = height(static_cast<int>(i % columns), first + static_cast<int>(i / columns));
            }
            map.rows_t(first, z_m, std::span(out_t).subspan(static_cast<std::size_t>(first) * columns, band * columns));
        }
    };
    std::thread other(draw);
    draw();
    other.join();
}

double rate(const std::vector<Rate>& rates, const std::string& name) {
    return std::ranges::find(rates, name, &Rate::name)->best_per_s;
}

} // namespace

FieldFigures measure_fields(bool quick) {
    Columns l1(in_l1);
    Columns memory(in_memory);
    using Loop = void (*)(const sim::PlacesSoA&, const sim::FieldsSoA&);
    const auto repeated = [&l1](Loop loop, int times) {
        return [&l1, loop, times] {
            for (int i = 0; i < times; ++i) {
                loop(l1.places, l1.fields);
            }
        };
    };
    const auto once = [&memory](Loop loop) { return [&memory, loop] { loop(memory.places, memory.fields); }; };
    const auto limit = [](bool divider) {
        return [divider] { sink = sim::dipole_limit_work(in_memory, divider).checksum; };
    };
    std::vector<Task> tasks = {
        {"field_scalar_memory_per_s", in_memory, once(one_by_one)},
        {"field_plain_memory_per_s", in_memory, once(plain)},
        {"field_batch_per_s", in_memory, once(batch)},
        {"field_traffic_per_s", in_memory, once(pass_on)},
        {"field_scalar_l1_per_s", 100 * in_l1, repeated(one_by_one, 100)},
        {"field_plain_l1_per_s", 200 * in_l1, repeated(plain, 200)},
        {"field_batch_l1_per_s", 1000 * in_l1, repeated(batch, 1000)},
        {"field_limit_per_s", in_memory, limit(false)},
        {"field_limit_divider_per_s", in_memory, limit(true)},
    };
    // In turn, so that all meet the same machine; each twice, so that the caches hold what it left there itself.
    for (int round = 0; round < (quick ? 5 : 40); ++round) {
        for (Task& task : tasks) {
            task.work();
            task.seconds.push_back(seconds_of(task.work));
        }
    }
    FieldFigures figures{sim::batch_target(), {}, {}};
    for (Task& task : tasks) {
        std::ranges::sort(task.seconds);
        const auto items = static_cast<double>(task.items);
        figures.rates.push_back(
            {task.name, items / task.seconds.front(), items / task.seconds[task.seconds.size() / 2]});
    }
    const auto over = [&](const std::string& name, const char* above, const char* below, double at_least) {
        figures.ratios.push_back({name, rate(figures.rates, above) / rate(figures.rates, below), at_least});
    };
    over("batch_to_scalar_memory", "field_batch_per_s", "field_scalar_memory_per_s", 3.0);
    over("batch_to_scalar_l1", "field_batch_l1_per_s", "field_scalar_l1_per_s", 6.0);
    over("batch_l1_to_limit", "field_batch_l1_per_s", "field_limit_per_s", 0.5);
    over("batch_to_plain_memory", "field_batch_per_s", "field_plain_memory_per_s", 3.0);
    over("batch_to_plain_l1", "field_batch_l1_per_s", "field_plain_l1_per_s", 6.0);
    over("batch_to_traffic_memory", "field_batch_per_s", "field_traffic_per_s", 0.0);
    return figures;
}

MapFigures measure_map(bool quick) {
    const Hardest hardest = hardest_map();
    std::vector<double> out_t(static_cast<std::size_t>(hardest.grid.columns) *
                              static_cast<std::size_t>(hardest.grid.rows));
    std::vector<double> seconds;
    for (int run = 0; run < (quick ? 3 : 15); ++run) {
        seconds.push_back(seconds_of([&] { draw_map(hardest, out_t); }));
        sink = out_t[out_t.size() / 2];
    }
    std::ranges::sort(seconds);
    return {hardest.name, 1e3 * seconds.front(), 1e3 * seconds[seconds.size() / 2], 150.0};
}

FieldPictureFigures measure_field_picture(bool quick) {
    const field::Setting setting(scenarios::resolve(scenarios::bundled(hardest_map().name), default_seed));
    const field::ExerciseState nothing_done = field::start(setting);
    const field::Score score = field::score(setting, nothing_done);
    const FieldMapTask task = field_map_task(setting);
    const auto sorted = [quick](const std::function<void()>& work) {
        std::vector<double> seconds;
        for (int run = 0; run < (quick ? 3 : 15); ++run) {
            seconds.push_back(seconds_of(work));
        }
        std::ranges::sort(seconds);
        return seconds;
    };
    FieldMapSheet sheet;
    const std::vector<double> map_s = sorted([&] { sheet = field_map_sheet(task, 512); });
    std::size_t lines = 0;
    const double lines_s = sorted([&] { lines += field_map_lines(sheet).signal.size(); }).front();
    const double points_s = sorted([&] {
                                const field::World& world = setting.world;
                                lines += field::true_points(world, task.scene, world.sonde).plumb.size();
                            }).front();
    const double section_s =
        sorted([&] { lines += section_field_of(setting, nothing_done.notebook, score).lines.size(); }).front();
    sink = static_cast<double>(lines);
    return {1e3 * map_s.front(), 1e3 * map_s[map_s.size() / 2], 100.0, 1e3 * lines_s, 1e3 * points_s, 1e3 * section_s};
}

} // namespace sondeyard::ui
