#include "sim/batch.hpp"

#include "sim/units.hpp"

#include <algorithm>
#include <array>
#include <cstdint>
#include <utility>

// AVX-512 with the later extensions would be the same code again.
#define HWY_DISABLED_TARGETS HWY_AVX3_DL
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/batch.cpp"
#include <hwy/foreach_target.h>
// after foreach_target
#include "sim/batch_vectors.hpp"

#include <hwy/cache_control.h>
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace sondeyard::sim::HWY_NAMESPACE {

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

// Places inside closest_range_m moved out to that distance, straight up when they are the dipole itself. Rare: kept out
// of the loop.
HWY_NOINLINE Three hold(Three r, Lanes square) {
    const auto near = hn::Lt(square, hn::Set(tag, closest_range_m * closest_range_m));
    const auto at = hn::Eq(square, hn::Zero(tag));
    const Lanes one = hn::Set(tag, 1.0);
    const Lanes range = hn::Sqrt(hn::IfThenElse(at, one, square));
    const Lanes out = hn::IfThenElse(near, hn::Div(hn::Set(tag, closest_range_m), range), one);
    if (mutated(Mutation::batch_held_unmoved)) {
        return r;
    }
    r.x = hn::Mul(r.x, out);
    r.y = hn::Mul(r.y, out);
    r.z = hn::IfThenElse(at, hn::Set(tag, closest_range_m), hn::Mul(r.z, out));
    return r;
}

HWY_INLINE Three field(const Source& from, const Three& place) {
    Three r{hn::Sub(place.x, from.px), hn::Sub(place.y, from.py), hn::Sub(place.z, from.pz)};
    const Lanes square = hn::MulAdd(r.z, r.z, hn::MulAdd(r.y, r.y, hn::Mul(r.x, r.x)));
    const Lanes held = hn::Set(tag, closest_range_m * closest_range_m);
    if (HWY_UNLIKELY(!hn::AllTrue(tag, hn::Ge(square, held)))) {
        r = hold(r, square);
    }
    const Lanes s = inverse_root(hn::Max(square, held));
    const Lanes q = hn::Mul(s, s);
    const Lanes scale = hn::Mul(q, s);
    const Lanes along = hn::Mul(q, hn::MulAdd(from.tz, r.z, hn::MulAdd(from.ty, r.y, hn::Mul(from.tx, r.x))));
    return {hn::Mul(scale, hn::MulSub(along, r.x, from.mx)), hn::Mul(scale, hn::MulSub(along, r.y, from.my)),
            hn::Mul(scale, hn::MulSub(along, r.z, from.mz))};
}

// More fields than caches hold are written past them: to store into a line that is not there would read it first, a
// third of all the traffic. Whoever reads the fields next has to fetch them anyway.
constexpr std::size_t beyond_caches = std::size_t{8} << 20U; // bytes of fields; a core's share of the last cache, about

bool worth_streaming(const FieldsSoA& out) {
    const auto on_vector = [](const double* p) {
        return reinterpret_cast<std::uintptr_t>(p) % (hn::Lanes(tag) * sizeof(double)) == 0;
    };
    return 3 * out.x_t.size_bytes() > beyond_caches && on_vector(out.x_t.data()) && on_vector(out.y_t.data()) &&
           on_vector(out.z_t.data());
}

void over(const glm::dvec3& position_m, const glm::dvec3& moment_am2, const PlacesSoA& places, const FieldsSoA& out) {
    const Source from(position_m, moment_am2);
    if (worth_streaming(out)) {
        const std::size_t whole = places.x_m.size() - places.x_m.size() % hn::Lanes(tag);
        const In in{places.x_m.data(), places.y_m.data(), places.z_m.data()};
        const Out to{out.x_t.data(), out.y_t.data(), out.z_t.data()};
        for (std::size_t i = 0; i < whole; i += hn::Lanes(tag)) {
            to.stream(i, field(from, in.at(i)));
        }
        hwy::FlushStream();
        const std::size_t rest = places.x_m.size() - whole;
        if (rest > 0) {
            over(position_m, moment_am2, {places.x_m.last(rest), places.y_m.last(rest), places.z_m.last(rest)},
                 {out.x_t.last(rest), out.y_t.last(rest), out.z_t.last(rest)});
        }
        return;
    }
    whole_vectors_and_rest<1>(places, {out}, [from](In in, std::array<Out, 1> to, std::size_t n) HWY_ATTR {
        const Source source = from; // a copy that no store can change

        for (std::size_t i = 0; i < n; i += hn::Lanes(tag)) {
            to[0].put(i, field(source, in.at(i)));
        }
    });
}

void added(const glm::dvec3& position_m, const glm::dvec3& moment_am2, const PlacesSoA& places, const FieldsSoA& out) {
    const Source from(position_m, moment_am2);
    whole_vectors_and_rest<1>(places, {out}, [from](In in, std::array<Out, 1> to, std::size_t n) HWY_ATTR {
        const Source source = from; // a copy that no store can change

        for (std::size_t i = 0; i < n; i += hn::Lanes(tag)) {
            to[0].add(i, field(source, in.at(i)));
        }
    });
}

// What `field` does for one vector of places, counted: a maximum, 18 multiplications, additions and multiply-adds, a
// division and a root; or a maximum, 24 of the former and an approximate root. Here in as many chains as hide the
// latency of each, all of which run toward 1.
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
    const auto next = [&start]() HWY_ATTR { return hn::Set(tag, start += 0.005); };
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
