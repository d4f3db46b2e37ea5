#include "ui/window/map_picture.hpp"

#include "ui/window/plan_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sondeyard::ui {

namespace {

// Of the map over the paper: so much that its colours are told apart, and so little that dark ink by day and light ink
// by night stay readable on it.
constexpr float strength = 0.6F;

using Colours = std::array<ImU32, 256>;

const Colours& colours(MapLayer layer) {
    const auto table_of = [](ImU32 (*colour)(double)) {
        Colours table{};
        for (std::size_t k = 0; k < table.size(); ++k) {
            table[k] = colour(static_cast<double>(k) / 255.0);
        }
        return table;
    };
    static const Colours signal = table_of(cividis);
    static const Colours dip = table_of(viridis);
    return layer == MapLayer::dip ? dip : signal;
}

struct Scale { // what a legend says
    std::string_view title;
    std::string_view lines;
    double low = 0.0;
    double high = 0.0;
    double every = 10.0;
};

Scale scale_of(const MapPicture& map) {
    if (map.layer() == MapLayer::dip) {
        return {"dip of the sonde's field, deg", "0 is level, 90 is plumb", 0.0, 90.0, 30.0};
    }
    // Both ends of the range have their figures: it is a number of tens, and at most 80 dB.
    const FieldMapRange& range = map.range();
    const double span = range.high_dbpt - range.low_dbpt;
    return {"signal, tip on the ground, dBpT", "a line every 6 dB: half as strong", range.low_dbpt, range.high_dbpt,
            std::fmod(span, 20.0) == 0.0 && span > 40.0 ? 20.0 : 10.0};
}

struct Legend {
    Box box;
    ImVec2 bar;
    float width = 0.0F;
    float height = 0.0F;
};

Legend legend_of(const Sheet& sheet, const Scale& scale) {
    const float h = sheet.theme.h;
    const ImVec2 words = text_size(sheet.theme.note, scale.title);
    Legend legend;
    legend.width = std::max({11.0F * h, words.x, text_size(sheet.theme.note, scale.lines).x});
    legend.height = std::floor(0.45F * h);
    legend.box.low = sheet.box.low + ImVec2{2.4F * h, 0.4F * h};
    legend.bar = {std::floor(legend.box.low.x + 0.9F * h), std::floor(legend.box.low.y + words.y + 0.2F * h)};
    legend.box.high = {legend.bar.x + legend.width + 0.9F * h,
                       legend.bar.y + legend.height + 2.0F * words.y + 0.2F * h};
    return legend;
}

} // namespace

std::string_view name_of(MapLayer layer) {
    return layer == MapLayer::signal ? "signal" : layer == MapLayer::dip ? "dip" : "none";
}

MapLayer after(MapLayer layer) {
    return layer == MapLayer::none ? MapLayer::signal : layer == MapLayer::signal ? MapLayer::dip : MapLayer::none;
}

std::string_view map_label(MapLayer layer) {
    return layer == MapLayer::none ? "Signal map" : layer == MapLayer::signal ? "Dip map" : "Hide map";
}

MapPicture::MapPicture(FieldMapTask task, Surface* surface)
    : task_(std::move(task)), surface_(surface), map_(task_, [surface] {
          if (surface != nullptr) {
              surface->wake();
          }
      }) {}

MapPicture::~MapPicture() {
    for (const Pass& pass : passes_) {
        if (pass.texture != nullptr) {
            surface_->drop_texture(pass.texture);
        }
    }
}

void MapPicture::take_in() {
    for (FieldMapBand& band : map_.take()) {
        take_band(band);
    }
}

void MapPicture::take_band(FieldMapBand& band) {
    Pass& pass = passes_.at(static_cast<std::size_t>(band.pass));
    if (pass.columns == 0) {
        pass.columns = band.columns;
        pass.rows = band.rows;
        pass.cell_m = band.cell_m;
        const std::size_t places = static_cast<std::size_t>(band.columns) * static_cast<std::size_t>(band.rows);
        pass.dbpt.resize(places);
        pass.dip_deg.resize(places);
        pass.texture = surface_ != nullptr ? surface_->make_texture(band.columns, band.rows) : nullptr;
    }
    if (band.pass == 0 && band.first_row == 0) { // the whole pass is one band
        range_ = field_map_range(task_, band.dbpt);
    }
    const auto begin = static_cast<std::ptrdiff_t>(band.first_row) * band.columns;
    std::ranges::copy(band.dbpt, pass.dbpt.begin() + begin);
    std::ranges::copy(band.dip_deg, pass.dip_deg.begin() + begin);
    pass.ready = band.first_row + static_cast<int>(band.dbpt.size()) / band.columns;
    if (pass.whole()) {
        pass.lines = std::move(band.lines);
    }
    colour_rows(pass, band.first_row, pass.ready);
}

void MapPicture::colour_rows(const Pass& pass, int first_row, int end_row) {
    if (surface_ == nullptr || pass.texture == nullptr || end_row <= first_row) {
        return;
    }
    const Colours& table = colours(layer_);
    const bool dip = layer_ == MapLayer::dip;
    const std::vector<float>& values = dip ? pass.dip_deg : pass.dbpt;
    const auto columns = static_cast<std::size_t>(pass.columns);
    const auto rows = std::span(values).subspan(static_cast<std::size_t>(first_row) * columns,
                                                static_cast<std::size_t>(end_row - first_row) * columns);
    std::vector<std::uint32_t> pixels;
    pixels.reserve(rows.size());
    for (const float value : rows) {
        const double share = dip ? value / 90.0 : range_.share(value);
        pixels.push_back(table[static_cast<std::size_t>(255.0 * std::clamp(share, 0.0, 1.0) + 0.5)]);
    }
    surface_->fill_rows(pass.texture, pass.columns, first_row, pixels);
}

void MapPicture::show(MapLayer layer) {
    if (layer == MapLayer::none || layer == layer_) {
        return;
    }
    layer_ = layer;
    for (const Pass& pass : passes_) {
        colour_rows(pass, 0, pass.ready);
    }
}

const std::vector<sim::Isoline>& MapPicture::lines() const {
    const Pass* finest = &passes_.front(); // has none before it is whole
    for (const Pass& pass : passes_) {
        finest = pass.whole() ? &pass : finest;
    }
    return layer_ == MapLayer::dip ? finest->lines.dip : finest->lines.signal;
}

int MapPicture::finished() const {
    int cells = 0;
    for (const Pass& pass : passes_) {
        cells = pass.whole() ? std::max(pass.columns, pass.rows) : cells;
    }
    return cells;
}

// ---- On the plan ----

void draw_field_map(Sheet& sheet, const MapPicture& map) {
    const ImU32 tint = with_alpha(IM_COL32_WHITE, strength);
    // From the finest pass down: each shows what the finer ones do not have yet, in the north.
    double from_m = 0.0;
    for (std::size_t k = map.passes().size(); k-- > 0 && from_m < map.length_m();) {
        const MapPicture::Pass& pass = map.passes()[k];
        // Not the outer half of the last row: it would be smoothed with what is not there yet.
        const double to_m = pass.whole() ? map.length_m() : std::min(map.length_m(), (pass.ready - 0.5) * pass.cell_m);
        if (pass.texture == nullptr || to_m <= from_m) {
            continue;
        }
        const double wide_m = pass.cell_m * pass.columns;
        const double long_m = pass.cell_m * pass.rows;
        sheet.list.AddImage(pass.texture, sheet.at({0.0, to_m}), sheet.at({map.width_m(), from_m}),
                            {0.0F, static_cast<float>(to_m / long_m)},
                            {static_cast<float>(map.width_m() / wide_m), static_cast<float>(from_m / long_m)}, tint);
        from_m = to_m;
    }
}

void keep_map_legend_free(Sheet& sheet, const MapPicture& map) {
    sheet.labels.take(legend_of(sheet, scale_of(map)).box);
}

void draw_map_legend(Sheet& sheet, const MapPicture& map) {
    if (map.finished() == 0) {
        return;
    }
    const Scale scale = scale_of(map);
    const Legend legend = legend_of(sheet, scale);
    ImFont* font = sheet.theme.note;
    sheet.list.AddRectFilled(legend.box.low, legend.box.high, with_alpha(sheet.ink().paper, 0.85F));
    draw_text(sheet.list, font, {legend.bar.x, legend.box.low.y}, sheet.ink().ink, scale.title);
    constexpr int steps = 40;
    for (int k = 0; k < steps; ++k) {
        const float from = std::floor(legend.width * static_cast<float>(k) / steps);
        const float to = std::floor(legend.width * static_cast<float>(k + 1) / steps);
        const ImU32 full = colours(map.layer())[static_cast<std::size_t>(k * 255 / (steps - 1))];
        sheet.list.AddRectFilled(legend.bar + ImVec2{from, 0.0F}, legend.bar + ImVec2{to, legend.height},
                                 mix(sheet.ink().paper, full, strength));
    }
    const double span = scale.high - scale.low;
    const float below = legend.bar.y + legend.height + 2.0F;
    for (int k = 0; k * scale.every <= span; ++k) {
        const double value = scale.low + k * scale.every;
        const std::string words = fmt::format("{:.0f}", value);
        const float x = std::floor(legend.bar.x + legend.width * static_cast<float>(k * scale.every / span)) + 0.5F;
        sheet.list.AddLine({x, legend.bar.y}, {x, below}, sheet.ink().ink, 1.0F);
        draw_text(sheet.list, font, {x - 0.5F * text_size(font, words).x, below}, sheet.ink().ink, words);
    }
    draw_text(sheet.list, font, {legend.bar.x, below + text_size(font, "0").y - 1.0F}, sheet.ink().quiet, scale.lines);
}

} // namespace sondeyard::ui
