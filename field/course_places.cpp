// Where the marks belong, for the checks of a lesson.
#include "field/course.hpp"
#include "field/track.hpp"

namespace sondeyard::field {

TruePlaces true_places(const World& world, const SondeTruth& sonde) {
    const TrackSpots spots = track_spots(world, sonde, in_free_space(sonde));
    TruePlaces places;
    places.sonde_m = spots.sonde_m;
    places.ahead = spots.ahead;
    places.depth_m = depth_m(world, sonde.position_m);
    places.peak_m = spots.at(spots.peak_m);
    places.level_m = spots.at(spots.level_m.value_or(0.0));
    for (const std::optional<double>& along_m : {spots.plumb_behind_m, spots.plumb_ahead_m}) {
        if (along_m) {
            places.plumb_m.push_back(spots.at(*along_m));
        }
    }
    for (const double along_m : spots.ghosts_m) {
        places.ghost_m.push_back(spots.at(along_m));
    }
    return places;
}

} // namespace sondeyard::field
