// Graph of the exercise against time, which is the scrub bar as well: what was marked and read on top, then signal, dip
// and height of the tip, below the clock.
#include "ui/window/debrief_views.hpp"
#include "ui/window/drafting.hpp"
#include "ui/window/replay_view.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace sondeyard::ui {

namespace {

struct Strip { // of the graph: one quantity over the whole time
    float top = 0.0F;
    float height = 0.0F;
    double low = 0.0;
    double high = 1.0;
    float y(double value) const {
        return top + height * static_cast<float>(1.0 - std::clamp((value - low) / (high - low), 0.0, 1.0));
    }
};

struct Chart {
    const DebriefParts& page;
    ReplayModel& model;
    ImDrawList& list;
    float left = 0.0F;  // of the time's axis
    float width = 0.0F; // whole pixels
    float events_top = 0.0F;
    float events_height = 0.0F;
    float clock_top = 0.0F; // where the strips end
    double end_s = 1.0;

    float h() const { return page.theme.h; }
    const Palette& ink() const { return page.theme.palette; }
    float x(double seconds) const { return left + width * static_cast<float>(std::clamp(seconds / end_s, 0.0, 1.0)); }
    float x_of(std::int64_t tick) const { return x(static_cast<double>(tick) / static_cast<double>(ticks_per_s)); }
    double seconds(float at_x) const {
        return end_s * std::clamp(static_cast<double>((at_x - left) / width), 0.0, 1.0);
    }
};

bool is_noted(const field::Event& event) { // has a symbol of its own
    const field::EventKind kind = field::kind_of(event);
    return !event.refused && (kind == field::EventKind::mark || kind == field::EventKind::reading);
}

std::string short_name(const DebriefParts& page, const field::Event& event) {
    if (const auto* mark = std::get_if<field::PlaceMark>(&event.command)) {
        return std::string(field::name_of(mark->kind));
    }
    if (std::holds_alternative<field::MoveMark>(event.command)) {
        return "moved";
    }
    if (std::holds_alternative<field::ReadDepth>(event.command)) {
        return event.reading && event.reading->depth_m ? field::length_text(*event.reading->depth_m, page.units())
                                                       : "weak";
    }
    return "back";
}

// A mark has the sign it has on the plan; a reading an arrow down to what was read; what was taken back a cross.
void draw_event_sign(const Chart& chart, const field::Event& event, ImVec2 at) {
    const float r = 0.4F * chart.h();
    if (const auto* mark = std::get_if<field::PlaceMark>(&event.command)) {
        draw_mark_symbol(chart.list, chart.page.theme, at, 0.8F * r, mark->kind);
    } else if (std::holds_alternative<field::ReadDepth>(event.command)) {
        chart.list.AddLine(at - ImVec2{0.0F, r}, at + ImVec2{0.0F, 0.4F * r}, chart.ink().ink, 2.0F);
        chart.list.AddTriangleFilled(at + ImVec2{-0.7F * r, 0.1F * r}, at + ImVec2{0.7F * r, 0.1F * r},
                                     at + ImVec2{0.0F, 1.1F * r}, chart.ink().ink);
    } else {
        const float half = 0.5F * r;
        chart.list.AddLine(at - ImVec2{half, half}, at + ImVec2{half, half}, chart.ink().quiet, 2.0F);
        chart.list.AddLine(at + ImVec2{-half, half}, at + ImVec2{half, -half}, chart.ink().quiet, 2.0F);
    }
}

void draw_events(const Chart& chart) {
    const Theme& theme = chart.page.theme;
    LabelBoard board(
        {{chart.left, chart.events_top}, {chart.left + chart.width, chart.events_top + chart.events_height}});
    const float middle = chart.events_top + 0.5F * chart.events_height;
    for (const field::Event& event : chart.model.timeline().events) {
        const float x = std::floor(chart.x_of(event.tick)) + 0.5F;
        if (!is_noted(event)) { // a short stroke: the list has its words
            chart.list.AddLine({x, chart.clock_top - 0.4F * theme.h}, {x, chart.clock_top}, chart.ink().quiet, 1.0F);
            continue;
        }
        const bool reading = field::kind_of(event) == field::EventKind::reading;
        chart.list.AddLine({x, middle + 0.5F * theme.h}, {x, chart.clock_top},
                           with_alpha(reading ? chart.ink().ink : chart.ink().survey, 0.35F), 1.0F);
        board.take({{x - 0.45F * theme.h, middle - 0.5F * theme.h}, {x + 0.45F * theme.h, middle + 0.5F * theme.h}});
    }
    for (const field::Event& event : chart.model.timeline().events) {
        if (!is_noted(event)) {
            continue;
        }
        const ImVec2 at{chart.x_of(event.tick), middle};
        draw_event_sign(chart, event, at);
        const std::string words = short_name(chart.page, event);
        if (const auto place = board.place_beside(at, {0.45F * theme.h, 0.45F * theme.h}, text_size(theme.note, words),
                                                  0.1F * theme.h)) {
            draw_text(chart.list, theme.note, *place, chart.ink().ink, words);
        }
    }
}

// Column by column from the least to the largest value in it; each reaches to its neighbour, so that the line has no gaps.
void draw_curve(const Chart& chart, const Strip& strip, std::span<const field::Span> spans, ImU32 colour) {
    field::Span before{std::numeric_limits<float>::quiet_NaN(), std::numeric_limits<float>::quiet_NaN()};
    for (std::size_t k = 0; k < spans.size(); ++k) {
        field::Span now = spans[k];
        if (!std::isnan(now.low)) {
            if (!std::isnan(before.low)) {
                now.low = std::min(now.low, before.high);
                now.high = std::max(now.high, before.low);
            }
            const float x = chart.left + static_cast<float>(k);
            const float top = strip.y(static_cast<double>(now.high)) - 0.75F;
            const float bottom = strip.y(static_cast<double>(now.low)) + 0.75F;
            chart.list.AddRectFilled({x, top}, {x + 1.0F, bottom}, colour);
        }
        before = spans[k];
    }
}

// `title` and, below it where there is room, `value` (of the moment shown) stand at the right, where they cover nothing.
void draw_strip(const Chart& chart, const Strip& strip, std::span<const field::Span> spans, std::string_view title,
                const std::string& value, std::span<const double> lines, ImU32 colour, double unit = 1.0) {
    const Theme& theme = chart.page.theme;
    const Palette& ink = chart.ink();
    chart.list.AddRect({chart.left, strip.top}, {chart.left + chart.width, strip.top + strip.height}, ink.grid, 0.0F, 0,
                       1.0F);
    const float line = text_size(theme.note, "0").y;
    float lowest = std::numeric_limits<float>::max(); // of the figures set so far: none may overlap
    for (const double at : lines) {
        const float y = std::floor(strip.y(at)) + 0.5F;
        chart.list.AddLine({chart.left, y}, {chart.left + chart.width, y}, ink.grid, 1.0F);
        const std::string figure = fmt::format("{:g}", std::round(at / unit));
        const float top = std::clamp(y - 0.5F * line, strip.top, strip.top + strip.height - line);
        if (top + line <= lowest) {
            draw_text(chart.list, theme.note, {chart.left - 0.3F * theme.h - text_size(theme.note, figure).x, top},
                      ink.quiet, figure);
            lowest = top;
        }
    }
    draw_curve(chart, strip, spans, colour);
    const float beside = chart.left + chart.width + 0.5F * theme.h;
    if (strip.height >= 2.0F * line || value.empty()) {
        draw_text(chart.list, theme.note, {beside, strip.top}, ink.quiet, title);
        draw_text(chart.list, theme.note, {beside, strip.top + line}, ink.ink, value);
    } else { // the title's first word goes before it
        draw_text(chart.list, theme.note, {beside, strip.top}, ink.ink,
                  fmt::format("{} {}", title.substr(0, title.find(' ')), value));
    }
}

void draw_strips(const Chart& chart) {
    const float h = chart.h();
    const ReplayGraph& graph = chart.model.graph(static_cast<int>(chart.width));
    const field::Observation& seen = chart.model.seen();
    const float top = chart.events_top + chart.events_height;
    const float room = chart.clock_top - top;
    const float gap = std::floor(0.2F * h);
    const float part = std::floor((room - 2.0F * gap) / 7.0F); // signal 3, dip 2, height 2
    const Strip signal{top, 3.0F * part, graph.signal_low, graph.signal_high};
    const Strip dip{top + signal.height + gap, 2.0F * part, 0.0, 90.0};
    const Strip height{dip.top + dip.height + gap, chart.clock_top - dip.top - dip.height - gap, 0.0,
                       graph.height_high_m};
    std::vector<double> tens;
    const double every = 3.0F * part > 3.0F * h ? 20.0 : 40.0;
    for (int k = 0; every * (std::ceil(graph.signal_low / every) + k) <= graph.signal_high; ++k) {
        tens.push_back(every * (std::ceil(graph.signal_low / every) + k));
    }
    const Palette& ink = chart.ink();
    draw_strip(chart, signal, graph.signal_dbpt, "signal", fmt::format("{:.1f} dBpT", seen.signal_dbpt), tens,
               ink.trail);
    const bool dial = chart.page.context.has_dial;
    draw_strip(chart, dip, graph.dip_deg, dial ? "dip" : "no dial",
               !dial            ? ""
               : !seen.has_axis ? "weak"
                                : fmt::format("{:.0f}°", std::abs(seen.dip_deg)),
               std::array{0.0, 90.0}, ink.survey);
    const bool feet = chart.page.units() == field::Units::feet;
    const double unit_m = feet ? field::metres_per_foot : 1.0;
    draw_strip(chart, height, graph.height_m, "tip over ground",
               field::length_text(seen.tip_height_m, chart.page.units()),
               std::array{0.0, unit_m * std::floor(graph.height_high_m / unit_m)}, ink.ink, unit_m);
}

// Whole minutes, or what of them there is room for.
void draw_clock(const Chart& chart) {
    const Theme& theme = chart.page.theme;
    const float wide = text_size(theme.note, "00:00").x + 1.5F * theme.h;
    constexpr std::array<double, 9> ladder = {5.0, 10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0, 3600.0};
    double every_s = ladder.back();
    for (auto step = ladder.rbegin(); step != ladder.rend(); ++step) {
        if (chart.width * static_cast<float>(*step / chart.end_s) >= wide) {
            every_s = *step;
        }
    }
    const auto count = static_cast<int>(std::min(1000.0, std::floor(chart.end_s / every_s)));
    for (int k = 0; k <= count; ++k) {
        const float x = std::floor(chart.x(k * every_s)) + 0.5F;
        chart.list.AddLine({x, chart.clock_top}, {x, chart.clock_top + 0.25F * theme.h}, chart.ink().quiet, 1.0F);
        const std::string words = clock_text(static_cast<std::int64_t>(std::lround(k * every_s)) * ticks_per_s);
        const float half = 0.5F * text_size(theme.note, words).x;
        draw_text(chart.list, theme.note,
                  {std::clamp(x - half, chart.left, chart.left + chart.width - 2.0F * half),
                   chart.clock_top + 0.25F * theme.h},
                  chart.ink().quiet, words);
    }
}

void draw_cursor(const Chart& chart) {
    const float x = std::floor(chart.x_of(chart.model.tick())) + 0.5F;
    const float r = 0.4F * chart.h();
    chart.list.AddRectFilled({chart.left, chart.clock_top - 1.0F}, {x, chart.clock_top + 2.0F}, chart.ink().ink);
    chart.list.AddLine({x, chart.events_top}, {x, chart.clock_top}, chart.ink().ink, 1.0F);
    chart.list.AddTriangleFilled({x - r, chart.clock_top + 1.5F * r}, {x + r, chart.clock_top + 1.5F * r},
                                 {x, chart.clock_top - 0.3F * r}, chart.ink().ink);
}

// The event whose sign is under the pointer, or nullptr.
const field::Event* event_at(const Chart& chart, ImVec2 pointer) {
    const field::Event* nearest = nullptr;
    float least = 0.55F * chart.h();
    for (const field::Event& event : chart.model.timeline().events) {
        const float off = std::abs(chart.x_of(event.tick) - pointer.x);
        const bool in_row = is_noted(event) ? pointer.y < chart.events_top + chart.events_height
                                            : pointer.y > chart.clock_top - 0.5F * chart.h();
        if (in_row && off < least) {
            nearest = &event;
            least = off;
        }
    }
    return nearest;
}

void work_graph(const Chart& chart, ImVec2 origin, ImVec2 size) {
    ReplayUi& ui = chart.page.state.replay;
    ImGui::SetCursorScreenPos(origin);
    ImGui::InvisibleButton("##graph", size);
    const ImVec2 pointer = ImGui::GetIO().MousePos;
    const field::Event* pointed = ImGui::IsItemHovered() ? event_at(chart, pointer) : nullptr;
    if (ImGui::IsItemActivated() && pointed != nullptr) {
        jump_replay(ui, pointed);
        ui.dragging = false;
    } else if (ImGui::IsItemActivated()) {
        ui.dragging = true;
    }
    if (ImGui::IsItemActive() && ui.dragging) {
        ui.at_s = chart.seconds(pointer.x);
    }
    if (pointed != nullptr && !ImGui::IsItemActive()) {
        const std::string words = fmt::format("{}  {}", clock_text(pointed->tick), event_words(chart.page, *pointed));
        ImGui::BeginTooltip();
        write(chart.page.theme.note, chart.ink().ink, words);
        ImGui::EndTooltip();
    }
}

} // namespace

void replay_graph(const DebriefParts& page, ReplayModel& model, ImVec2 size) {
    const float h = page.h();
    const ImVec2 origin = ImGui::GetCursorScreenPos();
    Chart chart{.page = page, .model = model, .list = *ImGui::GetWindowDrawList()};
    chart.left = std::floor(origin.x + 2.6F * h);
    chart.width = std::max(16.0F, std::floor(size.x - 2.6F * h - 8.5F * h));
    chart.events_top = std::floor(origin.y);
    chart.events_height = std::floor(1.3F * h);
    chart.clock_top = std::floor(origin.y + size.y - 1.35F * h);
    chart.end_s = std::max(1.0, static_cast<double>(model.last_tick()) / static_cast<double>(ticks_per_s));
    page.state.replay.graph_low = {chart.left, chart.events_top + chart.events_height};
    page.state.replay.graph_high = {chart.left + chart.width, chart.clock_top};
    if (model.ready()) {
        draw_strips(chart);
        draw_events(chart);
    } else {
        draw_text(chart.list, page.theme.note, origin + ImVec2{2.6F * h, 2.0F * h}, page.ink().quiet,
                  fmt::format("playing it through: {:.0f} %", 100.0 * model.share_ready()));
    }
    draw_clock(chart);
    draw_cursor(chart);
    work_graph(chart, origin, size);
}

} // namespace sondeyard::ui
