/// BatteryManager.BATTERY_STATUS_* of the platform, by its numbers. A header of its own, so that what judges
/// a capture needs no phone.
#pragma once

namespace hb::phone {
enum class ChargeStatus { unknown = 1, charging, discharging, not_charging, full };
}
