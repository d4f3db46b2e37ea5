// What the program may ask of the window that it is drawn in. Tests have none, or one of their own.
#pragma once

#include <imgui.h>

#include <cstdint>
#include <span>

namespace sondeyard::ui {

class Surface {
public:
    Surface() = default;
    virtual ~Surface() = default;
    Surface(const Surface&) = delete;
    Surface& operator=(const Surface&) = delete;

    // A picture kept where drawing is quick, black until it is filled; smoothed when it is drawn larger. nullptr when
    // there is no room for it.
    virtual ImTextureID make_texture(int columns, int rows) = 0;
    // Whole rows from first_row on; pixels as IM_COL32 has them.
    virtual void fill_rows(ImTextureID texture, int columns, int first_row, std::span<const std::uint32_t> pixels) = 0;
    virtual void drop_texture(ImTextureID texture) = 0;

    // From any thread: there is something new to draw.
    virtual void wake() = 0;
};

} // namespace sondeyard::ui
