#include "ui/window/map_picture.hpp"

#include "ui/window/plan_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sondeyard::ui {

namespace {

// Of the map over the paper: so much that its colours are told apart, and so little that dark ink by day and light ink by
// night stay readable on it.
constexpr float strength = 0.6F;

const std::array<ImU32, 256>& colours() {
    static const std::array<ImU32, 256> all = [] {
        std::array<ImU32, 256> table{};
        for (std::size_t k = 0; k < table.size(); ++k) {
            table[k] = cividis(static_cast<double>(k) / 255.0);
        }
        return table;
    }();
    return all;
}

constexpr std::string_view legend_title = "signal, tip on the ground, dBpT";

struct Legend {
    Box box;
    ImVec2 bar;
    float width = 0.0F;
    float height = 0.0F;
};

Legend legend_of(const Sheet& sheet) {
    const float h = sheet.theme.h;
    const ImVec2 words = text_size(sheet.theme.note, legend_title);
    Legend legend;
    legend.width = std::max(11.0F * h, words.x);
    legend.height = std::floor(0.45F * h);
    legend.box.low = sheet.box.low + ImVec2{2.4F * h, 0.4F * h};
    legend.bar = {std::floor(legend.box.low.x + 0.9F * h), std::floor(legend.box.low.y + words.y + 0.2F * h)};
    legend.box.high = {legend.bar.x + legend.width + 0.9F * h, legend.bar.y + legend.height + words.y + 0.2F * h};
    return legend;
}

} // namespace

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
    for (const FieldMapBand& band : map_.take()) {
        take_band(band);
    }
}

void MapPicture::take_band(const FieldMapBand& band) {
    Pass& pass = passes_.at(static_cast<std::size_t>(band.pass));
    if (pass.columns == 0) {
        pass.columns = band.columns;
        pass.rows = band.rows;
        pass.cell_m = band.cell_m;
        pass.dbpt.resize(static_cast<std::size_t>(band.columns) * static_cast<std::size_t>(band.rows));
        pass.texture = surface_ != nullptr ? surface_->make_texture(band.columns, band.rows) : nullptr;
    }
    if (band.pass == 0 && band.first_row == 0) { // the whole pass is one band
        range_ = field_map_range(task_, band.dbpt);
    }
    std::ranges::copy(band.dbpt, pass.dbpt.begin() + static_cast<std::ptrdiff_t>(band.first_row) * band.columns);
    pass.ready = band.first_row + static_cast<int>(band.dbpt.size()) / band.columns;
    if (surface_ == nullptr || pass.texture == nullptr) {
        return;
    }
    std::vector<std::uint32_t> pixels;
    pixels.reserve(band.dbpt.size());
    for (const float dbpt : band.dbpt) {
        pixels.push_back(colours()[static_cast<std::size_t>(std::lround(255.0 * range_.share(dbpt)))]);
    }
    surface_->fill_rows(pass.texture, band.columns, band.first_row, pixels);
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

void keep_map_legend_free(Sheet& sheet) { sheet.labels.take(legend_of(sheet).box); }

void draw_map_legend(Sheet& sheet, const MapPicture& map) {
    if (map.finished() == 0) {
        return;
    }
    const Legend legend = legend_of(sheet);
    const FieldMapRange& range = map.range();
    ImFont* font = sheet.theme.note;
    sheet.list.AddRectFilled(legend.box.low, legend.box.high, with_alpha(sheet.ink().paper, 0.85F));
    draw_text(sheet.list, font, {legend.bar.x, legend.box.low.y}, sheet.ink().ink, legend_title);
    constexpr int steps = 40;
    for (int k = 0; k < steps; ++k) {
        const float from = std::floor(legend.width * static_cast<float>(k) / steps);
        const float to = std::floor(legend.width * static_cast<float>(k + 1) / steps);
        const ImU32 colour = mix(sheet.ink().paper, cividis((k + 0.5) / steps), strength);
        sheet.list.AddRectFilled(legend.bar + ImVec2{from, 0.0F}, legend.bar + ImVec2{to, legend.height}, colour);
    }
    // Both ends of the range have their figures: it is a number of tens, and at most 80 dB.
    const double span = range.high_dbpt - range.low_dbpt;
    const double every = std::fmod(span, 20.0) == 0.0 && span > 40.0 ? 20.0 : 10.0;
    for (int k = 0; k * every <= span; ++k) {
        const double dbpt = range.low_dbpt + k * every;
        const std::string words = fmt::format("{:.0f}", dbpt);
        const float x = std::floor(legend.bar.x + legend.width * static_cast<float>(range.share(dbpt))) + 0.5F;
        sheet.list.AddLine({x, legend.bar.y}, {x, legend.bar.y + legend.height + 2.0F}, sheet.ink().ink, 1.0F);
        draw_text(sheet.list, font, {x - 0.5F * text_size(font, words).x, legend.bar.y + legend.height + 2.0F},
                  sheet.ink().ink, words);
    }
}

} // namespace sondeyard::ui
