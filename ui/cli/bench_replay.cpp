#include "ui/cli/bench_replay.hpp"

#include "scenarios/log_header.hpp"
#include "sim/random.hpp"
#include "ui/cli/bench_work.hpp"
#include "ui/cli/commands.hpp"
#include "ui/window/app.hpp"
#include "ui/window/temporary_folder.hpp"

#include <algorithm>
#include <ctime>
#include <filesystem>

namespace sondeyard::ui {

namespace {

// ImGui without a window: what a frame's caller does, down to the draw lists.
class Desk {
public:
    Desk() : context_(ImGui::CreateContext()) {
        ImGuiIO& io = ImGui::GetIO();
        io.IniFilename = nullptr;
        io.DisplaySize = ImVec2(1366.0F, 768.0F);
        io.DeltaTime = 1.0F / 60.0F;
    }
    ~Desk() { ImGui::DestroyContext(context_); }
    Desk(const Desk&) = delete;
    Desk& operator=(const Desk&) = delete;

    static void frame(App& app) {
        if (app.fonts_stale()) {
            std::string why_not;
            if (!app.load_fonts(why_not)) {
                throw BadInput(why_not);
            }
            unsigned char* pixels = nullptr;
            int width = 0;
            int height = 0;
            ImGui::GetIO().Fonts->GetTexDataAsAlpha8(&pixels, &width, &height);
        }
        const ImVec2 size = ImGui::GetIO().DisplaySize;
        app.update({}, 1.0 / 60.0, size);
        ImGui::NewFrame();
        app.draw(size);
        ImGui::Render();
    }

private:
    ImGuiContext* context_;
};

struct MedianAndWorst {
    double median_us = 0.0;
    double worst_us = 0.0;
};

MedianAndWorst of(std::vector<double> all_us) {
    const auto middle = all_us.begin() + std::ssize(all_us) / 2;
    std::ranges::nth_element(all_us, middle);
    return {*middle, std::ranges::max(all_us)};
}

// Of this thread's own time: what else runs on the machine does not count.
double thread_us() {
    timespec t{};
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return 1e6 * static_cast<double>(t.tv_sec) + 1e-3 * static_cast<double>(t.tv_nsec);
}

double frame_us(App& app) {
    const double began = thread_us();
    Desk::frame(app);
    return thread_us() - began;
}

} // namespace

ScrubFigures measure_scrubbing(bool quick) {
    const TemporaryFolder folder;
    const field::Setting setting(
        scenarios::resolve(scenarios::bundled(scenarios::bundled_names().front()), default_seed));
    const std::filesystem::path file = folder.path() / "log.jsonl";
    write_wandering_log(setting, ten_minutes_ticks, file);
    const Desk desk;
    AppOptions options;
    options.config.clear();
    options.data.clear();
    options.replay = file;
    App app(options);
    ScrubFigures figures;
    const double began_us = thread_us();
    for (Desk::frame(app); app.work_left(); Desk::frame(app)) {
    }
    figures.prepare_ms = 1e-3 * (thread_us() - began_us);
    app.execute("replay_whole"); // the whole trail in sight
    for (int i = 0; i < 10; ++i) {
        Desk::frame(app);
    }
    const ReplayUi& ui = app.session()->debrief_ui.replay;
    const int counted = quick ? 60 : 600;
    std::vector<double> jumps;
    std::vector<double> drags;
    jumps.reserve(static_cast<std::size_t>(counted));
    drags.reserve(static_cast<std::size_t>(counted));
    ImGuiIO& io = ImGui::GetIO();
    const auto point = [&](double share) {
        io.MousePos = {ui.graph_low.x + static_cast<float>(share) * (ui.graph_high.x - ui.graph_low.x),
                       0.5F * (ui.graph_low.y + ui.graph_high.y)};
    };
    point(0.5);
    Desk::frame(app);
    io.MouseDown[0] = true; // held from here on: where the pointer goes, there the replay stands
    Desk::frame(app);
    for (int i = 0; i < counted; ++i) {
        point(sim::uniform_pair(1, sim::stream_of("scrub"), static_cast<std::uint64_t>(i))[0]);
        jumps.push_back(frame_us(app));
    }
    for (int i = 0; i < counted; ++i) {
        point(i / (counted - 1.0));
        drags.push_back(frame_us(app));
    }
    io.MouseDown[0] = false;
    const MedianAndWorst jump = of(std::move(jumps));
    const MedianAndWorst drag = of(std::move(drags));
    figures.jump_us = jump.median_us;
    figures.jump_worst_us = jump.worst_us;
    figures.drag_us = drag.median_us;
    figures.drag_worst_us = drag.worst_us;
    return figures;
}

} // namespace sondeyard::ui
