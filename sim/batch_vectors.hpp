// What the vector loops share, once for each instruction set: included after hwy/highway.h by the sources that Highway
// compiles again for each, hence the guard that toggles.
#if defined(SONDEYARD_SIM_BATCH_VECTORS_HPP) == defined(HWY_TARGET_TOGGLE)
#ifdef SONDEYARD_SIM_BATCH_VECTORS_HPP
#undef SONDEYARD_SIM_BATCH_VECTORS_HPP
#else
#define SONDEYARD_SIM_BATCH_VECTORS_HPP
#endif

#include "sim/batch.hpp"

#include <hwy/highway.h>

#include <algorithm>
#include <array>

HWY_BEFORE_NAMESPACE();
namespace sondeyard::sim::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using Tag = hn::ScalableTag<double>;
using Lanes = hn::Vec<Tag>;

constexpr Tag tag;

#if HWY_ARCH_X86 && HWY_TARGET <= HWY_AVX3
#undef SONDEYARD_APPROXIMATE_ROOT
#define SONDEYARD_APPROXIMATE_ROOT 1
#else
#undef SONDEYARD_APPROXIMATE_ROOT
#define SONDEYARD_APPROXIMATE_ROOT 0
#endif

// 1 / sqrt(x) for x well inside the range of normal numbers.
HWY_INLINE Lanes inverse_root(Lanes x) {
#if SONDEYARD_APPROXIMATE_ROOT
    // y is right to 2^-14. With e = 1 - x y^2 the root is y (1 - e)^(-1/2) = y (1 + e/2 + 3 e^2/8 + 5 e^3/16 + ..), and
    // what is left out, 35 e^4 / 128, is below 2^-53: two pipes that do nothing else are spared a divider that takes
    // 16 cycles for a division and more for a root.
    const Lanes y{_mm512_rsqrt14_pd(x.raw)};
    const Lanes e = hn::NegMulAdd(hn::Mul(x, y), y, hn::Set(tag, 1.0));
    const Lanes p = hn::MulAdd(hn::MulAdd(hn::Set(tag, 5.0 / 16.0), e, hn::Set(tag, 3.0 / 8.0)), e, hn::Set(tag, 0.5));
    return hn::MulAdd(hn::Mul(y, e), p, y);
#else
    return hn::Div(hn::Set(tag, 1.0), hn::Sqrt(x));
#endif
}

struct Three {
    Lanes x, y, z;
};

// Where three components lie.
struct In {
    const double *x, *y, *z;
    HWY_INLINE Three at(std::size_t i) const {
        return {hn::LoadU(tag, x + i), hn::LoadU(tag, y + i), hn::LoadU(tag, z + i)};
    }
};

struct Out {
    double *x, *y, *z;
    HWY_INLINE void put(std::size_t i, const Three& b) const {
        hn::StoreU(b.x, tag, x + i);
        hn::StoreU(b.y, tag, y + i);
        hn::StoreU(b.z, tag, z + i);
    }
    // Past the caches: only from multiples of a vector's bytes on.
    HWY_INLINE void stream(std::size_t i, const Three& b) const {
        hn::Stream(b.x, tag, x + i);
        hn::Stream(b.y, tag, y + i);
        hn::Stream(b.z, tag, z + i);
    }
    HWY_INLINE void add(std::size_t i, const Three& b) const {
        put(i, {hn::Add(b.x, hn::LoadU(tag, x + i)), hn::Add(b.y, hn::LoadU(tag, y + i)),
                hn::Add(b.z, hn::LoadU(tag, z + i))});
    }
};

// Calls loop(in, out, n) for all whole vectors, and once more for the rest in arrays of its own: nothing is read or
// written beyond the end.
template <std::size_t outs, class Loop>
HWY_INLINE void whole_vectors_and_rest(const PlacesSoA& in, const std::array<FieldsSoA, outs>& out, const Loop& loop) {
    const std::size_t n = in.x_m.size();
    const std::size_t whole = n - n % hn::Lanes(tag);
    std::array<Out, outs> to;
    for (std::size_t k = 0; k < outs; ++k) {
        to[k] = {out[k].x_t.data(), out[k].y_t.data(), out[k].z_t.data()};
    }
    loop(In{in.x_m.data(), in.y_m.data(), in.z_m.data()}, to, whole);
    if (whole == n) {
        return;
    }
    using Rest = std::array<double, hn::MaxLanes(tag)>;
    std::array<Rest, 3> from{};
    std::array<std::array<Rest, 3>, outs> rest{};
    const std::array<const std::span<const double>*, 3> places = {&in.x_m, &in.y_m, &in.z_m};
    for (std::size_t axis = 0; axis < 3; ++axis) {
        std::copy(places[axis]->begin() + whole, places[axis]->end(), from[axis].begin());
    }
    for (std::size_t k = 0; k < outs; ++k) {
        const std::array<const std::span<double>*, 3> fields = {&out[k].x_t, &out[k].y_t, &out[k].z_t};
        for (std::size_t axis = 0; axis < 3; ++axis) {
            std::copy(fields[axis]->begin() + whole, fields[axis]->end(), rest[k][axis].begin());
        }
        to[k] = {rest[k][0].data(), rest[k][1].data(), rest[k][2].data()};
    }
    loop(In{from[0].data(), from[1].data(), from[2].data()}, to, hn::Lanes(tag));
    for (std::size_t k = 0; k < outs; ++k) {
        const std::array<const std::span<double>*, 3> fields = {&out[k].x_t, &out[k].y_t, &out[k].z_t};
        for (std::size_t axis = 0; axis < 3; ++axis) {
            std::copy_n(rest[k][axis].begin(), n - whole, fields[axis]->begin() + whole);
        }
    }
}

} // namespace sondeyard::sim::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#endif
