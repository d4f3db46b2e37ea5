#include "sim/batch.hpp"
#include "sim/units.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <stdexcept>

// AVX-512 with the later extensions would be the same code again.
#define HWY_DISABLED_TARGETS HWY_AVX3_DL
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/batch_terms.cpp"
#include <hwy/foreach_target.h>
// after foreach_target
#include "sim/batch_vectors.hpp"

#include <hwy/highway.h>

#ifndef SONDEYARD_SIM_BATCH_TERMS_ONCE
#define SONDEYARD_SIM_BATCH_TERMS_ONCE
namespace sondeyard::sim {

// A piece of a line with length, and what is the same for all places.
struct LinePiece {
    std::array<double, 3> first_m;
    std::array<double, 3> second_m;
    std::array<double, 3> along_m;
    double near_squared; // of |a x along|: closest_to_line_m from the straight line through the piece
    bool follows;        // begins where the one before it ended
};

struct LineTerm {
    std::span<const glm::dvec3> points_m;
    std::vector<LinePiece> pieces;
};

} // namespace sondeyard::sim
#endif

HWY_BEFORE_NAMESPACE();
namespace sondeyard::sim::HWY_NAMESPACE {

HWY_INLINE Lanes dot(const Three& a, const Three& b) {
    return hn::MulAdd(a.z, b.z, hn::MulAdd(a.y, b.y, hn::Mul(a.x, b.x)));
}

HWY_INLINE Three all_lanes(const std::array<double, 3>& v) {
    return {hn::Set(tag, v[0]), hn::Set(tag, v[1]), hn::Set(tag, v[2])};
}

// From the places to an end of a piece.
struct End {
    Three to;
    Lanes length, inverse;

    HWY_INLINE End(const std::array<double, 3>& point, const Three& place) {
        const Three p = all_lanes(point);
        to = {hn::Sub(p.x, place.x), hn::Sub(p.y, place.y), hn::Sub(p.z, place.z)};
        const Lanes square = hn::Max(dot(to, to), hn::Set(tag, 1e-30)); // at the end itself the scalar function serves
        inverse = inverse_root(square);
        length = hn::Mul(square, inverse);
    }
};

// The closed form of line.cpp, a vector of places at a time; with 1/|a| and 1/|b| at hand one division does:
//     (|a| + |b|) / (|a| |b|) = 1/|a| + 1/|b|
// Lanes of `near` are left for the scalar function.
HWY_INLINE Three unit_current_field(const std::vector<LinePiece>& pieces, const Three& place, hn::Mask<Tag>& near) {
    Three sum{hn::Zero(tag), hn::Zero(tag), hn::Zero(tag)};
    near = hn::Lt(hn::Zero(tag), hn::Zero(tag));
    End a(pieces.front().first_m, place);
    for (const LinePiece& piece : pieces) {
        if (!piece.follows) {
            a = End(piece.first_m, place);
        }
        const End b(piece.second_m, place);
        const Three l = all_lanes(piece.along_m);
        const Three normal{hn::NegMulAdd(a.to.z, l.y, hn::Mul(a.to.y, l.z)),
                           hn::NegMulAdd(a.to.x, l.z, hn::Mul(a.to.z, l.x)),
                           hn::NegMulAdd(a.to.y, l.x, hn::Mul(a.to.x, l.y))};
        const Lanes normal_squared = dot(normal, normal);
        const auto held = hn::Le(normal_squared, hn::Set(tag, piece.near_squared));
        near = hn::Or(near, held);

        const Lanes one = hn::Set(tag, 1.0);
        const Lanes product = hn::Mul(a.length, b.length);
        const Lanes cosine = dot(a.to, b.to);
        const auto abreast = hn::Lt(cosine, hn::Zero(tag));
        const Lanes above = hn::IfThenElse(abreast, hn::Sub(product, cosine), one);
        const Lanes below = hn::IfThenElse(abreast, normal_squared, hn::Add(product, cosine));
        const Lanes share = hn::Div(hn::Mul(hn::Add(a.inverse, b.inverse), above), hn::IfThenElse(held, one, below));
        sum = {hn::MulAdd(share, normal.x, sum.x), hn::MulAdd(share, normal.y, sum.y),
               hn::MulAdd(share, normal.z, sum.z)};
        a = b;
    }
    const Lanes unit = hn::Set(tag, mu0_over_4pi);
    return {hn::Mul(unit, sum.x), hn::Mul(unit, sum.y), hn::Mul(unit, sum.z)};
}

// Puts the scalar field into the lanes whose bits are set.
HWY_NOINLINE Three with_scalar_lanes(const LineTerm& line, const Three& place, const Three& field_t,
                                     hn::Mask<Tag> near) {
    constexpr std::size_t most = hn::MaxLanes(tag);
    HWY_ALIGN std::array<std::array<double, most>, 3> at;
    HWY_ALIGN std::array<std::array<double, most>, 3> b;
    std::array<std::uint8_t, 8> bits{};
    Out{at[0].data(), at[1].data(), at[2].data()}.put(0, place);
    Out{b[0].data(), b[1].data(), b[2].data()}.put(0, field_t);
    hn::StoreMaskBits(tag, near, bits.data());
    for (std::size_t i = 0; i < hn::Lanes(tag); ++i) {
        if ((bits[i / 8] >> (i % 8) & 1) != 0) {
            const glm::dvec3 scalar = unit_current_field_t(line.points_m, {at[0][i], at[1][i], at[2][i]});
            b[0][i] = scalar.x;
            b[1][i] = scalar.y;
            b[2][i] = scalar.z;
        }
    }
    return In{b[0].data(), b[1].data(), b[2].data()}.at(0);
}

HWY_INLINE void add_times(const Out& out, std::size_t i, Lanes factor, const Three& b) {
    const Three before = In{out.x, out.y, out.z}.at(i);
    out.put(i,
            {hn::MulAdd(factor, b.x, before.x), hn::MulAdd(factor, b.y, before.y), hn::MulAdd(factor, b.z, before.z)});
}

void line_fields(const LineTerm& line, const PlacesSoA& places, const FieldsSoA& out) {
    whole_vectors_and_rest<1>(places, {out}, [&line](In in, std::array<Out, 1> to, std::size_t n) HWY_ATTR {
        for (std::size_t i = 0; i < n; i += hn::Lanes(tag)) {
            hn::Mask<Tag> near;
            const Three place = in.at(i);
            Three unit = unit_current_field(line.pieces, place, near);
            if (HWY_UNLIKELY(!hn::AllFalse(tag, near))) {
                unit = with_scalar_lanes(line, place, unit, near);
            }
            to[0].put(i, unit);
        }
    });
}

void times_fields(const FieldsSoA& fields, std::complex<double> factor, const PhasorsSoA& out) {
    const PlacesSoA from{fields.x_t, fields.y_t, fields.z_t};
    whole_vectors_and_rest<2>(from, {out.re, out.im}, [factor](In in, std::array<Out, 2> to, std::size_t n) HWY_ATTR {
        const Lanes re = hn::Set(tag, factor.real());
        const Lanes im = hn::Set(tag, factor.imag());
        for (std::size_t i = 0; i < n; i += hn::Lanes(tag)) {
            const Three b = in.at(i);
            add_times(to[0], i, re, b);
            add_times(to[1], i, im, b);
        }
    });
}

// A complex number in every lane.
struct Complex {
    Lanes re, im;
};

HWY_INLINE Complex times(const Complex& a, const Complex& b) {
    return {hn::NegMulAdd(a.im, b.im, hn::Mul(a.re, b.re)), hn::MulAdd(a.re, b.im, hn::Mul(a.im, b.re))};
}

HWY_INLINE Complex plus(const Complex& a, const Complex& b) { return {hn::Add(a.re, b.re), hn::Add(a.im, b.im)}; }

HWY_INLINE Complex all_lanes(double re, double im) { return {hn::Set(tag, re), hn::Set(tag, im)}; }

// The five sums of a sheet between its nodes.
struct SheetSums {
    Complex upright_z, upright_r, level_p, level_q, level_z;
};

template <bool layered>
HWY_INLINE SheetSums sums_at(const GroundSheet& sheet, Lanes node, Lanes layer) {
    using Integers = hn::RebindToSigned<Tag>;
    constexpr Integers integers;
    constexpr int parts = GroundSheet::parts;
    constexpr int nodes = GroundSheet::nodes;
    const Lanes first = hn::Floor(hn::Min(node, hn::Set(tag, nodes - 1.0)));
    const Lanes f = hn::Sub(hn::Min(node, hn::Set(tag, double{nodes})), first);
    const Lanes one = hn::Set(tag, 1.0);
    const Lanes rest = hn::Sub(one, f);

    Lanes start = first;
    std::array<Lanes, 3> across = {one, one, one};
    if constexpr (layered) {
        // The parabola through the layer nearest and its neighbours.
        const Lanes inside = hn::Min(hn::Max(layer, hn::Zero(tag)), hn::Set(tag, sheet.layers() - 1.0));
        const Lanes middle = hn::Min(hn::Max(hn::Round(inside), one), hn::Set(tag, sheet.layers() - 2.0));
        const Lanes g = hn::Sub(inside, middle);
        const Lanes half = hn::Mul(hn::Set(tag, 0.5), g);
        across = {hn::Mul(half, hn::Sub(g, one)), hn::NegMulAdd(g, g, one), hn::Mul(half, hn::Add(g, one))};
        start = hn::MulAdd(hn::Sub(middle, one), hn::Set(tag, nodes + 1.0), first);
    }
    const auto index = hn::ConvertTo(integers, hn::Mul(start, hn::Set(tag, double{parts})));
    const double* from = sheet.values().data();
    std::array<Lanes, parts> v;
    for (int part = 0; part < parts; ++part) {
        Lanes sum = hn::Zero(tag);
        for (int k = 0; k < (layered ? 3 : 1); ++k) {
            const double* at = from + k * (nodes + 1) * parts + part;
            const Lanes low = hn::GatherIndex(tag, at, index);
            const Lanes high = hn::GatherIndex(tag, at + parts, index);
            const Lanes between = hn::MulAdd(f, high, hn::Mul(rest, low));
            sum = layered ? hn::MulAdd(across[static_cast<std::size_t>(k)], between, sum) : between;
        }
        v[static_cast<std::size_t>(part)] = sum;
    }
    return {{v[0], v[1]}, {v[2], v[3]}, {v[4], v[5]}, {v[6], v[7]}, {v[8], v[9]}};
}

template <bool layered>
void ground_loop(const GroundSheet& sheet, const glm::dvec3& surface_m, const Phasor3& m, const PlacesSoA& places,
                 const PhasorsSoA& out) {
    whole_vectors_and_rest<2>(places, {out.re, out.im}, [&](In in, std::array<Out, 2> to, std::size_t n) HWY_ATTR {
        const Complex mx = all_lanes(m.re.x, m.im.x);
        const Complex my = all_lanes(m.re.y, m.im.y);
        const Complex mz = all_lanes(m.re.z, m.im.z);
        const Three origin{hn::Set(tag, surface_m.x), hn::Set(tag, surface_m.y), hn::Set(tag, surface_m.z)};
        for (std::size_t i = 0; i < n; i += hn::Lanes(tag)) {
            const Three place = in.at(i);
            const Lanes x = hn::Sub(place.x, origin.x);
            const Lanes y = hn::Sub(place.y, origin.y);
            const Lanes height =
                hn::Min(hn::Max(hn::Sub(place.z, origin.z), hn::Zero(tag)), hn::Set(tag, ground_most_height_m));
            const Lanes s = hn::Add(height, hn::Set(tag, sheet.depth_m()));
            const Lanes level = hn::MulAdd(y, y, hn::Mul(x, x));
            const Lanes per_range = inverse_root(hn::MulAdd(s, s, level));
            // 1 - sqrt(l/R) at the lowest height, l = depth + lowest: 0 straight above, whatever the place's own height
            const Lanes l = hn::Set(tag, sheet.lowest_m());
            const Lanes cosine = hn::Min(hn::Mul(l, inverse_root(hn::MulAdd(l, l, level))), hn::Set(tag, 1.0));
            const Lanes node = hn::NegMulAdd(cosine, inverse_root(cosine), hn::Set(tag, 1.0));
            Lanes layer = hn::Zero(tag);
            if constexpr (layered) {
                const Lanes rise = hn::Div(height, hn::Add(s, hn::Set(tag, sheet.depth_m())));
                layer = hn::MulSub(rise, hn::Set(tag, sheet.layers_per_rise()), hn::Set(tag, sheet.first_layer()));
            }
            const SheetSums sums = sums_at<layered>(
                sheet, hn::Mul(hn::Max(node, hn::Zero(tag)), hn::Set(tag, sheet.nodes_per_share())), layer);

            const Lanes u = hn::Mul(x, per_range);
            const Lanes v = hn::Mul(y, per_range);
            const Complex mr{hn::MulAdd(u, mx.re, hn::Mul(v, my.re)), hn::MulAdd(u, mx.im, hn::Mul(v, my.im))};
            const Complex outward = plus(times(sums.upright_r, mz), times(sums.level_q, mr));
            const Complex across_x = times(sums.level_p, mx);
            const Complex across_y = times(sums.level_p, my);
            const Complex upward = plus(times(sums.upright_z, mz), times(sums.level_z, mr));
            const Lanes scale = hn::Mul(per_range, hn::Mul(per_range, per_range));
            add_times(to[0], i, scale,
                      {hn::MulSub(u, outward.re, across_x.re), hn::MulSub(v, outward.re, across_y.re), upward.re});
            add_times(to[1], i, scale,
                      {hn::MulSub(u, outward.im, across_x.im), hn::MulSub(v, outward.im, across_y.im), upward.im});
        }
    });
}

void ground_fields(const GroundSheet& sheet, const glm::dvec3& surface_m, const Phasor3& moment_am2,
                   const PlacesSoA& places, const PhasorsSoA& out) {
    if (sheet.layers() == 1) {
        ground_loop<false>(sheet, surface_m, moment_am2, places, out);
    } else {
        ground_loop<true>(sheet, surface_m, moment_am2, places, out);
    }
}

} // namespace sondeyard::sim::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace sondeyard::sim {

namespace {

HWY_EXPORT(line_fields);
HWY_EXPORT(times_fields);
HWY_EXPORT(ground_fields);

void check_both(const PlacesSoA& places, const PhasorsSoA& out) {
    check_lengths(places, out.re);
    check_lengths(places, out.im);
}

std::array<double, 3> three(const glm::dvec3& v) { return {v.x, v.y, v.z}; }

} // namespace

void add_dipole_fields_t(const Dipole& source, const PlacesSoA& places, const PhasorsSoA& out) {
    check_both(places, out);
    for (const auto& [moment, part] : {std::pair{source.moment_am2.re, out.re}, {source.moment_am2.im, out.im}}) {
        if (moment != glm::dvec3{0.0}) {
            add_dipole_fields_t(source.position_m, moment, places, part);
        }
    }
}

void line_unit_fields_t(std::span<const glm::dvec3> points_m, const PlacesSoA& places, const FieldsSoA& out) {
    check_lengths(places, out);
    LineTerm line{points_m, {}};
    for (std::size_t i = 1; i < points_m.size(); ++i) {
        const glm::dvec3 along = points_m[i] - points_m[i - 1];
        const double square = along.x * along.x + along.y * along.y + along.z * along.z;
        if (square > 0.0) {
            line.pieces.push_back({three(points_m[i - 1]), three(points_m[i]), three(along),
                                   closest_to_line_m * closest_to_line_m * square, false});
        }
    }
    for (std::size_t i = 1; i < line.pieces.size(); ++i) {
        line.pieces[i].follows = line.pieces[i].first_m == line.pieces[i - 1].second_m;
    }
    if (line.pieces.empty()) {
        for (const std::span<double>& component : {out.x_t, out.y_t, out.z_t}) {
            std::ranges::fill(component, 0.0);
        }
        return;
    }
    HWY_DYNAMIC_DISPATCH(line_fields)(line, places, out);
}

void add_times_t(const FieldsSoA& fields, std::complex<double> factor, const PhasorsSoA& out) {
    check_both({fields.x_t, fields.y_t, fields.z_t}, out);
    const double im = mutated(Mutation::batch_quadrature_current_dropped) ? 0.0 : factor.imag();
    HWY_DYNAMIC_DISPATCH(times_fields)(fields, {factor.real(), im}, out);
}

GroundSheet::GroundSheet(const GroundTable& table, double depth_m, double low_height_m, double high_height_m,
                         double most_radius_m)
    : depth_m_(depth_m), lowest_m_(depth_m) {
    constexpr double step = 0.04; // of rise, at most
    if (!(depth_m > 0.0) || !(most_radius_m > 0.0) || !(low_height_m <= high_height_m)) {
        throw std::invalid_argument("sheet of ground: depth and radius must be above 0, heights in order");
    }
    const double low_m = std::clamp(low_height_m, 0.0, ground_most_height_m);
    const double high_m = std::clamp(high_height_m, 0.0, ground_most_height_m);
    const double low = low_m / (low_m + 2.0 * depth_m);
    const double high = high_m / (high_m + 2.0 * depth_m);
    if (high > low) {
        const int steps = std::max(2, static_cast<int>(std::ceil((high - low) / step)));
        layers_ = steps + 1;
        layers_per_rise_ = steps / (high - low);
    }
    first_layer_ = low * layers_per_rise_;
    lowest_m_ = depth_m_ + low_m;
    nodes_per_share_ = nodes / (1.0 - std::sqrt(lowest_m_ / std::hypot(lowest_m_, most_radius_m)));
    values_.resize(static_cast<std::size_t>(layers_) * (nodes + 1) * parts);
    for (int layer = 0; layer < layers_; ++layer) {
        for (int node = nodes; node >= 0; --node) {
            sample(table, layer, node);
        }
    }
}

void GroundSheet::sample(const GroundTable& table, int layer, int node) {
    const double rise = (first_layer_ + layer) / layers_per_rise_;
    const double height = 2.0 * depth_m_ * rise / (1.0 - rise);
    const double root = 1.0 - node / nodes_per_share_;
    const double r = lowest_m_ * std::sqrt((1.0 - root * root) * (1.0 + root * root)) / (root * root);
    const double range = std::hypot(r, depth_m_ + height);
    const double cube = range * range * range;
    const Phasor3 level_x{{1.0, 0.0, 0.0}, glm::dvec3{0.0}};
    const Phasor3 upright{{0.0, 0.0, 1.0}, glm::dvec3{0.0}};
    const Phasor3 along = cube * table.secondary_t(level_x, {r, 0.0, height});
    const Phasor3 abreast = cube * table.secondary_t(level_x, {0.0, r, height});
    const Phasor3 up = cube * table.secondary_t(upright, {r, 0.0, height});
    double* to = values_.data() + (static_cast<std::ptrdiff_t>(layer) * (nodes + 1) + node) * parts;
    to[0] = up.re.z;
    to[1] = up.im.z;
    to[4] = -abreast.re.x;
    to[5] = -abreast.im.x;
    if (node == 0) { // what goes with the first and second power of r/R is divided by it, so hardly changes near 0
        for (const int part : {2, 3, 6, 7, 8, 9}) {
            to[part] = to[parts + part];
        }
        return;
    }
    const double u = r / range;
    const double sign = mutated(Mutation::batch_ground_outward_sign) ? -1.0 : 1.0;
    to[2] = sign * up.re.x / u;
    to[3] = sign * up.im.x / u;
    to[6] = (along.re.x - abreast.re.x) / (u * u);
    to[7] = (along.im.x - abreast.im.x) / (u * u);
    to[8] = along.re.z / u;
    to[9] = along.im.z / u;
}

void add_ground_fields_t(const GroundSheet& sheet, const glm::dvec3& surface_m, const Phasor3& moment_am2,
                         const PlacesSoA& places, const PhasorsSoA& out) {
    check_both(places, out);
    HWY_DYNAMIC_DISPATCH(ground_fields)(sheet, surface_m, moment_am2, places, out);
}

} // namespace sondeyard::sim
#endif
