#include "sim/batch.hpp"

#include "sim/dipole.hpp"
#include "sim/units.hpp"

#include <algorithm>
#include <array>
#include <utility>

// AVX-512 with the later extensions would be the same code again.
#define HWY_DISABLED_TARGETS HWY_AVX3_DL
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/batch.cpp"
#include <hwy/foreach_target.h>
// after foreach_target
#include <hwy/highway.h>

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

// A dipole as the kernel wants it: in every lane.
struct Source {
    Lanes px, py, pz; // position
    Lanes mx, my, mz; // mu0 / 4 pi times the moment
    Lanes tx, ty, tz; // three times that

    HWY_INLINE Source(const glm::dvec3& p, const glm::dvec3& moment_am2)
        : px(hn::Set(tag, p.x)), py(hn::Set(tag, p.y)), pz(hn::Set(tag, p.z)) {
        const glm::dvec3 m = mu0_over_4pi * moment_am2;
        const glm::dvec3 t = (mutated(Mutation::batch_along_once) ? 1.0 : 3.0) * m;
        mx = hn::Set(tag, m.x), my = hn::Set(tag, m.y), mz = hn::Set(tag, m.z);
        tx = hn::Set(tag, t.x), ty = hn::Set(tag, t.y), tz = hn::Set(tag, t.z);
    }
};

struct Three {
    Lanes x, y, z;
};

// Places inside closest_range_m moved out to that distance, straight up when they are the dipole itself. Rare: kept out
// of the loop.
HWY_NOINLINE void hold(Three& r, Lanes square) {
    const auto near = hn::Lt(square, hn::Set(tag, closest_range_m * closest_range_m));
    const auto at = hn::Eq(square, hn::Zero(tag));
    const Lanes one = hn::Set(tag, 1.0);
    const Lanes range = hn::Sqrt(hn::IfThenElse(at, one, square));
    const Lanes out = hn::IfThenElse(near, hn::Div(hn::Set(tag, closest_range_m), range), one);
    if (mutated(Mutation::batch_held_unmoved)) {
        return;
    }
    r.x = hn::Mul(r.x, out);
    r.y = hn::Mul(r.y, out);
    r.z = hn::IfThenElse(at, hn::Set(tag, closest_range_m), hn::Mul(r.z, out));
}

HWY_INLINE Three field(const Source& from, Lanes x, Lanes y, Lanes z) {
    Three r{hn::Sub(x, from.px), hn::Sub(y, from.py), hn::Sub(z, from.pz)};
    const Lanes square = hn::MulAdd(r.z, r.z, hn::MulAdd(r.y, r.y, hn::Mul(r.x, r.x)));
    const Lanes held = hn::Set(tag, closest_range_m * closest_range_m);
    if (HWY_UNLIKELY(!hn::AllTrue(tag, hn::Ge(square, held)))) {
        hold(r, square);
    }
    const Lanes s = inverse_root(hn::Max(square, held));
    const Lanes q = hn::Mul(s, s);
    const Lanes scale = hn::Mul(q, s);
    const Lanes along = hn::Mul(q, hn::MulAdd(from.tz, r.z, hn::MulAdd(from.ty, r.y, hn::Mul(from.tx, r.x))));
    return {hn::Mul(scale, hn::MulSub(along, r.x, from.mx)), hn::Mul(scale, hn::MulSub(along, r.y, from.my)),
            hn::Mul(scale, hn::MulSub(along, r.z, from.mz))};
}

template <bool add>
HWY_INLINE void put(Three b, double* x, double* y, double* z) {
    if constexpr (add) {
        b = {hn::Add(b.x, hn::LoadU(tag, x)), hn::Add(b.y, hn::LoadU(tag, y)), hn::Add(b.z, hn::LoadU(tag, z))};
    }
    hn::StoreU(b.x, tag, x);
    hn::StoreU(b.y, tag, y);
    hn::StoreU(b.z, tag, z);
}

template <bool add>
HWY_INLINE void dipole_loop(const Source& from, const double* HWY_RESTRICT x, const double* HWY_RESTRICT y,
                            const double* HWY_RESTRICT z, double* HWY_RESTRICT bx, double* HWY_RESTRICT by,
                            double* HWY_RESTRICT bz, std::size_t n) {
    for (std::size_t i = 0; i < n; i += hn::Lanes(tag)) {
        put<add>(field(from, hn::LoadU(tag, x + i), hn::LoadU(tag, y + i), hn::LoadU(tag, z + i)), bx + i, by + i,
                 bz + i);
    }
}

template <bool add>
void dipole_fields(const glm::dvec3& position_m, const glm::dvec3& moment_am2, const PlacesSoA& in,
                   const FieldsSoA& out) {
    const Source from(position_m, moment_am2);
    const std::size_t lanes = hn::Lanes(tag);
    const std::size_t n = in.x_m.size();
    const std::size_t whole = n - n % lanes;
    dipole_loop<add>(from, in.x_m.data(), in.y_m.data(), in.z_m.data(), out.x_t.data(), out.y_t.data(), out.z_t.data(),
                     whole);
    if (whole == n) {
        return;
    }
    std::array<std::array<double, hn::MaxLanes(tag)>, 6> part{};
    std::copy(in.x_m.begin() + whole, in.x_m.end(), part[0].begin());
    std::copy(in.y_m.begin() + whole, in.y_m.end(), part[1].begin());
    std::copy(in.z_m.begin() + whole, in.z_m.end(), part[2].begin());
    std::copy(out.x_t.begin() + whole, out.x_t.end(), part[3].begin());
    std::copy(out.y_t.begin() + whole, out.y_t.end(), part[4].begin());
    std::copy(out.z_t.begin() + whole, out.z_t.end(), part[5].begin());
    dipole_loop<add>(from, part[0].data(), part[1].data(), part[2].data(), part[3].data(), part[4].data(),
                     part[5].data(), lanes);
    std::copy_n(part[3].begin(), n - whole, out.x_t.begin() + whole);
    std::copy_n(part[4].begin(), n - whole, out.y_t.begin() + whole);
    std::copy_n(part[5].begin(), n - whole, out.z_t.begin() + whole);
}

void over(const glm::dvec3& p, const glm::dvec3& m, const PlacesSoA& in, const FieldsSoA& out) {
    dipole_fields<false>(p, m, in, out);
}

void added(const glm::dvec3& p, const glm::dvec3& m, const PlacesSoA& in, const FieldsSoA& out) {
    dipole_fields<true>(p, m, in, out);
}

// What `field` does for one vector of places, counted: a maximum, 18 multiplications, additions and multiply-adds, a
// division and a root; or a maximum, 24 of the former and an approximate root. Here in as many chains as hide the latency
// of each, all of which run toward 1.
template <bool approximate>
struct LimitChains {
    static constexpr std::size_t vectors = 4; // of places a round
    static constexpr std::size_t sums_wide = 12;
    std::array<Lanes, sums_wide> sums;
    std::array<Lanes, vectors> roots;
    std::array<Lanes, vectors> quotients;
    Lanes largest;

    template <std::size_t... k>
    HWY_INLINE void add_up(std::index_sequence<k...> /*steps*/) {
        const Lanes most = hn::Set(tag, 0.999);
        const Lanes rest = hn::Set(tag, 0.001);
        ((sums[k % sums_wide] = hn::MulAdd(sums[k % sums_wide], most, rest)), ...);
    }

    template <std::size_t v>
    HWY_INLINE void vector_of_places() {
        largest = hn::Max(largest, sums[v]);
#if SONDEYARD_APPROXIMATE_ROOT
        if constexpr (approximate) {
            add_up(std::make_index_sequence<24>());
            roots[v] = Lanes{_mm512_rsqrt14_pd(roots[v].raw)};
            return;
        }
#endif
        add_up(std::make_index_sequence<18>());
        roots[v] = hn::Sqrt(roots[v]);
        quotients[v] = hn::Div(hn::Set(tag, 0.999), quotients[v]);
    }

    template <std::size_t... v>
    HWY_INLINE void round(std::index_sequence<v...> /*vectors*/) {
        (vector_of_places<v>(), ...);
    }
};

template <bool approximate>
LimitWork limit_of(std::size_t points) {
    LimitChains<approximate> chains;
    // Each its own start: a compiler that sees two equal chains makes one of them.
    double start = 0.95;
    const auto next = [&start] { return hn::Set(tag, start += 0.005); };
    std::ranges::generate(chains.sums, next);
    std::ranges::generate(chains.roots, next);
    std::ranges::generate(chains.quotients, next);
    chains.largest = next();
    const std::size_t round = chains.vectors * hn::Lanes(tag);
    const std::size_t rounds = (points + round - 1) / round;
    for (std::size_t i = 0; i < rounds; ++i) {
        chains.round(std::make_index_sequence<chains.vectors>());
    }
    Lanes all = chains.largest;
    for (const Lanes& sum : chains.sums) {
        all = hn::Add(all, sum);
    }
    for (std::size_t v = 0; v < chains.vectors; ++v) {
        all = hn::Add(all, hn::Add(chains.roots[v], chains.quotients[v]));
    }
    return {rounds * round, hn::GetLane(all)};
}

LimitWork limit_work(std::size_t points, bool divider) {
    return divider || SONDEYARD_APPROXIMATE_ROOT == 0 ? limit_of<false>(points) : limit_of<true>(points);
}

const char* target() { return hwy::TargetName(HWY_TARGET); }

} // namespace sondeyard::sim::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace sondeyard::sim {

namespace {

HWY_EXPORT(over);
HWY_EXPORT(added);
HWY_EXPORT(limit_work);
HWY_EXPORT(target);

} // namespace

void dipole_fields_t(const glm::dvec3& position_m, const glm::dvec3& moment_am2, const PlacesSoA& places,
                     const FieldsSoA& out) {
    check_lengths(places, out);
    HWY_DYNAMIC_DISPATCH(over)(position_m, moment_am2, places, out);
}

void add_dipole_fields_t(const glm::dvec3& position_m, const glm::dvec3& moment_am2, const PlacesSoA& places,
                         const FieldsSoA& out) {
    check_lengths(places, out);
    HWY_DYNAMIC_DISPATCH(added)(position_m, moment_am2, places, out);
}

LimitWork dipole_limit_work(std::size_t points, bool divider) {
    return HWY_DYNAMIC_DISPATCH(limit_work)(points, divider);
}

const char* batch_target() { return HWY_DYNAMIC_DISPATCH(target)(); }

} // namespace sondeyard::sim
#endif
