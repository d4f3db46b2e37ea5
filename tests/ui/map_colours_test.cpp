// The colours of the field maps.
//
// | checked                    | against                                                                    |
// | ---                        | ---                                                                        |
// | rise of lightness          | CIE 1976 L* (CIE 015) of sRGB (IEC 61966-2-1), both from memory            |
// | colours of both maps       | cividis: Nunez, Anderton, Renslow, PLoS ONE 13(7) e0199239, 2018; viridis: van der Walt and Smith, 2015; |
// |                            | both as matplotlib 3.6.3 has them (_cm_listed.py)                          |
// | colours to colour-blind    | Machado, Oliveira, Fernandes, A physiologically-based model for simulation of color vision deficiency, |
// | eyes                       | IEEE TVCG 15(6), 2009, severity 1.0 (matrices from memory), and CIE 1976 colour difference |
#include "ui/window/map_picture.hpp"

#include <doctest/doctest.h>
#include <glm/geometric.hpp>

#include <algorithm>
#include <array>
#include <cmath>

using namespace sondeyard;
using namespace sondeyard::ui;

namespace {

glm::dvec3 linear_rgb(ImU32 colour) {
    const auto linear = [colour](int shift) {
        const double c = static_cast<double>((colour >> shift) & 0xFF) / 255.0;
        return c <= 0.04045 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
    };
    return {linear(IM_COL32_R_SHIFT), linear(IM_COL32_G_SHIFT), linear(IM_COL32_B_SHIFT)};
}

// CIE 1976 L*, a*, b* of linear sRGB, white D65.
glm::dvec3 lab(const glm::dvec3& rgb) {
    const auto f = [](double t) { return t > 216.0 / 24389.0 ? std::cbrt(t) : (t * 24389.0 / 27.0 + 16.0) / 116.0; };
    const double x = f((0.4124 * rgb.x + 0.3576 * rgb.y + 0.1805 * rgb.z) / 0.9505);
    const double y = f(0.2126 * rgb.x + 0.7152 * rgb.y + 0.0722 * rgb.z);
    const double z = f((0.0193 * rgb.x + 0.1192 * rgb.y + 0.9505 * rgb.z) / 1.089);
    return {116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)};
}

double lightness(ImU32 colour) { return lab(linear_rgb(colour)).x; }

void check_even_rise(ImU32 (*map)(double)) {
    double before = lightness(map(0.0));
    for (int k = 1; k <= 64; ++k) {
        const double now = lightness(map(k / 64.0));
        CAPTURE(k);
        CHECK(now > before + 0.5); // some 77 in all, so 1.2 each if they were all alike
        CHECK(now < before + 2.2);
        before = now;
    }
}

using Matrix = std::array<glm::dvec3, 3>; // rows
glm::dvec3 seen_by(const Matrix& eyes, const glm::dvec3& rgb) {
    glm::dvec3 seen;
    for (int k = 0; k < 3; ++k) {
        seen[k] = std::clamp(glm::dot(eyes[static_cast<std::size_t>(k)], rgb), 0.0, 1.0);
    }
    return seen;
}
constexpr Matrix usual = {{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};
constexpr Matrix protan = {
    {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}}};
constexpr Matrix deutan = {
    {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}}};
constexpr Matrix tritan = {
    {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}}};

} // namespace

TEST_CASE("the colours rise evenly in lightness") {
    CHECK(cividis(0.0) == IM_COL32(0x00, 0x22, 0x4e, 255));
    CHECK(cividis(1.0) == IM_COL32(0xfe, 0xe8, 0x38, 255));
    CHECK(cividis(-3.0) == cividis(0.0));
    CHECK(cividis(7.0) == cividis(1.0));
    check_even_rise(cividis);
}

TEST_CASE("the dip's colours are the published ones and rise evenly in lightness") {
    CHECK(viridis(0.0) == IM_COL32(0x44, 0x01, 0x54, 255));
    CHECK(viridis(0.4) == IM_COL32(0x2a, 0x78, 0x8e, 255));
    CHECK(viridis(0.6) == IM_COL32(0x22, 0xa8, 0x84, 255));
    CHECK(viridis(1.0) == IM_COL32(0xfd, 0xe7, 0x25, 255));
    CHECK(cividis(4.0 / 16.0) == IM_COL32(0x43, 0x4e, 0x6c, 255));
    CHECK(cividis(12.0 / 16.0) == IM_COL32(0xbb, 0xad, 0x6c, 255));
    check_even_rise(viridis);
}

TEST_CASE("both maps rise in lightness and keep neighbours apart for every kind of eyes") {
    for (ImU32 (*map)(double) : {cividis, viridis}) {
        for (const Matrix* eyes : {&usual, &protan, &deutan, &tritan}) {
            const auto colour = [&](int k) { return lab(seen_by(*eyes, linear_rgb(map(k / 16.0)))); };
            for (int k = 1; k <= 16; ++k) {
                CAPTURE(k);
                CHECK(colour(k).x > colour(k - 1).x + 1.5);
                CHECK(glm::length(colour(k) - colour(k - 1)) > 3.0); // 2.3 is just noticed
            }
        }
    }
}
