"""Single nights of steady weather through the windrow."""

from support.nights import HIGH_PLACE, NO_GROUND_S_M, hourly, run_from

from hayweather.windrow.forcing import Place
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.vapor import dew_point, saturation_vapor_pressure

HOURS = 10


def steady_night(temperature_c, humidity_percent, wind_m_s, cloud_fraction, place=HIGH_PLACE):
    """A night of steady weather over a windrow at 10 % wet basis, closed to the ground."""
    vapor = humidity_percent / 100 * saturation_vapor_pressure(temperature_c)
    weather = hourly(
        HOURS,
        air_temperature_c=temperature_c,
        dew_point_c=dew_point(vapor),
        wind_speed_m_s=wind_m_s,
        cloud_fraction=cloud_fraction,
    )
    closed = WindrowParameters(ground_resistance_s_m=NO_GROUND_S_M)
    return run_from(weather, windrow=closed, place=place)


def night_gain_g_m2(humidity_percent, cloud_fraction):
    """Water gained [g/m2] by 15 C and 1 m/s at 1500 m."""
    run = steady_night(15.0, humidity_percent, 1.0, cloud_fraction)
    dry_matter = WindrowParameters().dry_matter_kg_m2
    return float(1000 * dry_matter * (run.windrow_db[-1, 0] - run.windrow_db[0, 0]))


def overcast_night_gain_g_m2(humidity_percent):
    return night_gain_g_m2(humidity_percent, 1.0)


def calm_clear_skin_drop_k(temperature_c, humidity_percent, wind_m_s, elevation_m):
    """How far the skin lies below the air after five hours of a clear night [K]."""
    place = Place(40.0, -105.0, elevation_m)
    run = steady_night(temperature_c, humidity_percent, wind_m_s, 0.0, place)
    return temperature_c - float(run.skin_temperature_c[20, 0])
