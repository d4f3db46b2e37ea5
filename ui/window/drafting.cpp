#include "ui/window/drafting.hpp"

#include <imgui_internal.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

namespace sondeyard::ui {

float length(ImVec2 v) { return std::sqrt(v.x * v.x + v.y * v.y); }

ImVec2 unit(ImVec2 v) {
    const float l = length(v);
    return l > 0.0F ? ImVec2{v.x / l, v.y / l} : ImVec2{1.0F, 0.0F};
}

ImVec2 square_to(ImVec2 v) { return {-v.y, v.x}; }

bool Box::overlaps(const Box& other) const {
    return low.x < other.high.x && other.low.x < high.x && low.y < other.high.y && other.low.y < high.y;
}

bool Box::holds(const Box& other) const {
    return low.x <= other.low.x && low.y <= other.low.y && high.x >= other.high.x && high.y >= other.high.y;
}

bool Box::holds(ImVec2 point) const {
    return point.x >= low.x && point.x <= high.x && point.y >= low.y && point.y <= high.y;
}

Box grown(const Box& box, float by) { return {box.low - ImVec2{by, by}, box.high + ImVec2{by, by}}; }

ImU32 mix(ImU32 a, ImU32 b, float share_of_b) {
    const auto channel = [&](int shift) {
        const auto from = static_cast<float>((a >> shift) & 0xFFU);
        const auto to = static_cast<float>((b >> shift) & 0xFFU);
        return static_cast<ImU32>(std::lround(from + (to - from) * share_of_b)) << shift;
    };
    return channel(IM_COL32_R_SHIFT) | channel(IM_COL32_G_SHIFT) | channel(IM_COL32_B_SHIFT) | (a & IM_COL32_A_MASK);
}

ImU32 with_alpha(ImU32 colour, float alpha) {
    const auto level = static_cast<ImU32>(std::lround(std::clamp(alpha, 0.0F, 1.0F) * 255.0F));
    return (colour & ~static_cast<ImU32>(IM_COL32_A_MASK)) | (level << IM_COL32_A_SHIFT);
}

ImFont* font_or_default(ImFont* font) { return font != nullptr ? font : ImGui::GetFont(); }

ImVec2 text_size(ImFont* font, std::string_view words) {
    ImFont* f = font_or_default(font);
    return f->CalcTextSizeA(f->FontSize, 1e9F, 0.0F, words.data(), words.data() + words.size());
}

namespace {

void letter(ImDrawList& list, ImFont* font, ImVec2 at, ImU32 colour, std::string_view words, float width,
            const ImVec4* clip) {
    const ImFont* f = font_or_default(font);
    // Whole pixels: the atlas is sharp only there.
    const ImVec2 place{std::floor(at.x), std::floor(at.y)};
    list.AddText(f, f->FontSize, place, colour, words.data(), words.data() + words.size(), width, clip);
    if (ImGui::GetCurrentContext()->LogEnabled) {
        ImGui::LogRenderedText(&place, words.data(), words.data() + words.size());
    }
}

} // namespace

void draw_text(ImDrawList& list, ImFont* font, ImVec2 at, ImU32 colour, std::string_view words) {
    letter(list, font, at, colour, words, 0.0F, nullptr);
}

void draw_text_within(ImDrawList& list, ImFont* font, ImVec2 at, ImU32 colour, std::string_view words,
                      const Box& within, float width) {
    const ImVec4 clip(within.low.x, within.low.y, within.high.x, within.high.y);
    letter(list, font, at, colour, words, width, &clip);
}

void draw_text_on_paper(ImDrawList& list, ImFont* font, ImVec2 at, ImU32 colour, ImU32 paper, std::string_view words) {
    const ImVec2 size = text_size(font, words);
    list.AddRectFilled(at - ImVec2{2.0F, 0.0F}, at + size + ImVec2{2.0F, 0.0F}, with_alpha(paper, 0.86F));
    draw_text(list, font, at, colour, words);
}

namespace {

// "5 %", "1 deg", "0.5 m": figure and unit stay together.
bool before_unit(std::string_view words, std::size_t blank) {
    static constexpr std::array<std::string_view, 10> units = {"%", "deg", "dB",  "m",  "cm",
                                                               "s", "Hz",  "kHz", "ft", "in"};
    if (blank == 0 || blank >= words.size() || words[blank] != ' ' || words[blank - 1] < '0' ||
        words[blank - 1] > '9') {
        return false;
    }
    const std::size_t end = std::min(words.find_first_of(" .,:;)", blank + 1), words.size());
    return std::ranges::find(units, words.substr(blank + 1, end - blank - 1)) != units.end();
}

} // namespace

std::vector<std::string_view> wrapped(ImFont* font, std::string_view words, float width) {
    std::vector<std::string_view> lines;
    std::size_t start = 0;
    while (start < words.size()) {
        const std::size_t newline = std::min(words.find('\n', start), words.size());
        std::size_t end = start;
        float wide = 0.0F;
        while (end < newline) { // word by word, each with the blank before it
            std::size_t next = std::min(words.find(' ', end + 1), newline);
            while (next < newline && before_unit(words, next)) {
                next = std::min(words.find(' ', next + 1), newline);
            }
            wide += text_size(font, words.substr(end, next - end)).x;
            if (end > start && wide > width) {
                break;
            }
            end = next;
        }
        lines.push_back(words.substr(start, end - start));
        start = std::max(end, start) + (end < words.size() ? 1 : 0);
        if (end == words.size()) {
            break;
        }
    }
    return lines;
}

ImVec2 draw_lines(ImDrawList& list, ImFont* font, ImVec2 at, ImU32 colour, std::string_view words, float width) {
    ImVec2 extent{0.0F, 0.0F};
    for (const std::string_view line : wrapped(font, words, width)) {
        draw_text(list, font, {at.x, at.y + extent.y}, colour, line);
        extent.x = std::max(extent.x, text_size(font, line).x);
        extent.y += font_or_default(font)->FontSize;
    }
    return extent;
}

namespace {

float cross(ImVec2 o, ImVec2 a, ImVec2 b) { return (a.x - o.x) * (b.y - o.y) - (a.y - o.y) * (b.x - o.x); }

bool in_triangle(ImVec2 p, ImVec2 a, ImVec2 b, ImVec2 c) {
    const float d1 = cross(a, b, p);
    const float d2 = cross(b, c, p);
    const float d3 = cross(c, a, p);
    return (d1 >= 0.0F && d2 >= 0.0F && d3 >= 0.0F) || (d1 <= 0.0F && d2 <= 0.0F && d3 <= 0.0F);
}

bool is_ear(std::span<const ImVec2> outline, const std::vector<std::size_t>& left, std::size_t i, float sense) {
    const std::size_t n = left.size();
    const ImVec2 a = outline[left[(i + n - 1) % n]];
    const ImVec2 b = outline[left[i]];
    const ImVec2 c = outline[left[(i + 1) % n]];
    if (cross(a, b, c) * sense < 0.0F) {
        return false;
    }
    for (std::size_t k = 0; k < n; ++k) {
        if (k == i || k == (i + n - 1) % n || k == (i + 1) % n) {
            continue;
        }
        if (in_triangle(outline[left[k]], a, b, c)) {
            return false;
        }
    }
    return true;
}

// Without anti-aliased edges, so that no seam shows between the triangles; the outline drawn after covers the steps.
void plain_triangle(ImDrawList& list, ImVec2 a, ImVec2 b, ImVec2 c, ImU32 colour) {
    const ImVec2 white = ImGui::GetFontTexUvWhitePixel();
    list.PrimReserve(3, 3);
    list.PrimVtx(a, white, colour);
    list.PrimVtx(b, white, colour);
    list.PrimVtx(c, white, colour);
}

} // namespace

void fill_polygon(ImDrawList& list, std::span<const ImVec2> outline, ImU32 colour) {
    if (outline.size() < 3) {
        return;
    }
    double twice_area = 0.0;
    for (std::size_t i = 0; i < outline.size(); ++i) {
        const ImVec2 a = outline[i];
        const ImVec2 b = outline[(i + 1) % outline.size()];
        twice_area += static_cast<double>(a.x) * b.y - static_cast<double>(b.x) * a.y;
    }
    const float sense = twice_area >= 0.0 ? 1.0F : -1.0F;
    std::vector<std::size_t> left(outline.size());
    for (std::size_t i = 0; i < left.size(); ++i) {
        left[i] = i;
    }
    while (left.size() > 2) {
        std::size_t ear = 0;
        for (std::size_t i = 0; i < left.size(); ++i) {
            if (is_ear(outline, left, i, sense)) {
                ear = i;
                break;
            }
        }
        const std::size_t n = left.size();
        plain_triangle(list, outline[left[(ear + n - 1) % n]], outline[left[ear]], outline[left[(ear + 1) % n]],
                       colour);
        left.erase(left.begin() + static_cast<std::ptrdiff_t>(ear));
    }
}

void draw_dashes(ImDrawList& list, ImVec2 a, ImVec2 b, ImU32 colour, float thickness, float dash, float gap,
                 const Box& clip, float phase) {
    const float whole = length(b - a);
    const float period = dash + gap;
    if (whole <= 0.0F || period <= 0.0F) {
        return;
    }
    const ImVec2 along = unit(b - a);
    // Only the stretch inside the clip's circle is walked: a line of paint may reach far outside a magnified sheet.
    const ImVec2 middle = (clip.low + clip.high) * 0.5F;
    const float radius = length(clip.high - middle) + period;
    const float nearest = (middle.x - a.x) * along.x + (middle.y - a.y) * along.y;
    const float first = std::max(0.0F, nearest - radius);
    const float last = std::min(whole, nearest + radius);
    const float begin = std::floor((first + phase) / period) * period - phase;
    const int count = static_cast<int>(std::ceil(std::max(last - begin, 0.0F) / period));
    for (int k = 0; k < count; ++k) {
        const float start = begin + static_cast<float>(k) * period;
        const float from = std::max(start, 0.0F);
        const float to = std::min(start + dash, whole);
        if (to - from < 0.5F) {
            continue;
        }
        const ImVec2 p = a + along * from;
        const ImVec2 q = a + along * to;
        const Box extent{{std::min(p.x, q.x) - thickness, std::min(p.y, q.y) - thickness},
                         {std::max(p.x, q.x) + thickness, std::max(p.y, q.y) + thickness}};
        if (extent.overlaps(clip)) {
            list.AddLine(p, q, colour, thickness);
        }
    }
}

void draw_arrow(ImDrawList& list, ImVec2 from, ImVec2 to, ImU32 colour, float thickness, float head) {
    const ImVec2 along = unit(to - from);
    const ImVec2 side = square_to(along);
    const ImVec2 neck = to - along * head;
    list.AddLine(from, neck, colour, thickness);
    list.AddTriangleFilled(to, neck + side * (head * 0.42F), neck - side * (head * 0.42F), colour);
}

ImVec2 draw_dimension(ImDrawList& list, ImVec2 a, ImVec2 b, float offset, ImU32 colour, float tick) {
    const ImVec2 along = unit(b - a);
    const ImVec2 side = square_to(along);
    const ImVec2 from = a + side * offset;
    const ImVec2 to = b + side * offset;
    if (std::abs(offset) > 1.0F) {
        const float past = offset > 0.0F ? tick * 0.5F : -tick * 0.5F;
        const ImU32 thin = with_alpha(colour, 0.55F);
        list.AddLine(a, a + side * (offset + past), thin, 1.0F);
        list.AddLine(b, b + side * (offset + past), thin, 1.0F);
    }
    list.AddLine(from, to, colour, 1.5F);
    // Slanted strokes at the ends, as on a builder's drawing: they stay readable when the two are close together.
    const ImVec2 slant = (along + side) * (tick * 0.5F);
    list.AddLine(from - slant, from + slant, colour, 1.5F);
    list.AddLine(to - slant, to + slant, colour, 1.5F);
    return (from + to) * 0.5F;
}

bool LabelBoard::in_building(ImVec2 point) const {
    const auto around = [point](const std::vector<ImVec2>& outline) { // an odd number of sides to the right of it
        bool inside = false;
        for (std::size_t i = 0; i < outline.size(); ++i) {
            const ImVec2 a = outline[i];
            const ImVec2 b = outline[(i + 1) % outline.size()];
            if ((a.y > point.y) != (b.y > point.y) && point.x < a.x + (point.y - a.y) / (b.y - a.y) * (b.x - a.x)) {
                inside = !inside;
            }
        }
        return inside;
    };
    return std::ranges::any_of(buildings_, around);
}

bool LabelBoard::is_free(const Box& box) const {
    return sheet_.holds(box) &&
           std::none_of(taken_.begin(), taken_.end(), [&](const Box& other) { return other.overlaps(box); });
}

std::optional<ImVec2> LabelBoard::place(ImVec2 size, std::span<const ImVec2> candidates) {
    const ImVec2 blanks{0.7F * size.y, 0.0F};
    for (const ImVec2 at : candidates) {
        const Box box = grown({at, at + size}, 1.0F);
        const Box apart{box.low - blanks, box.high + blanks};
        if (is_free(box) && std::ranges::none_of(labels_, [&](const Box& other) { return other.overlaps(apart); })) {
            taken_.push_back(box);
            labels_.push_back(box);
            return at;
        }
    }
    return std::nullopt;
}

std::optional<ImVec2> LabelBoard::place_beside(ImVec2 thing, ImVec2 half, ImVec2 size, float gap) {
    const float right = thing.x + half.x + gap;
    const float left = thing.x - half.x - gap - size.x;
    const float below = thing.y + half.y + gap * 0.5F;
    const float above = thing.y - half.y - gap * 0.5F - size.y;
    const float mid_x = thing.x - size.x * 0.5F;
    const float mid_y = thing.y - size.y * 0.5F;
    const std::array<ImVec2, 8> candidates = {{{right, mid_y},
                                               {left, mid_y},
                                               {mid_x, below},
                                               {mid_x, above},
                                               {right, below},
                                               {right, above},
                                               {left, below},
                                               {left, above}}};
    const auto outdoors = [&](ImVec2 at) {
        const std::array<ImVec2, 5> points = {
            {at + size * 0.5F, at, at + size, {at.x + size.x, at.y}, {at.x, at.y + size.y}}};
        return std::ranges::none_of(points, [&](ImVec2 p) { return in_building(p); });
    };
    std::array<ImVec2, 8> ordered{}; // outside of buildings first, each part in the order above
    const auto indoors = std::ranges::copy_if(candidates, ordered.begin(), outdoors).out;
    std::ranges::copy_if(candidates, indoors, std::not_fn(outdoors));
    return place(size, ordered);
}

} // namespace sondeyard::ui
